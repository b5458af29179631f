import { wireBundle } from "./bundle.ts";
import type { KernelState } from "./handler.ts";
import type { Output, RequestContext } from "./interpreter.ts";
import type { JsonObject } from "./message.ts";
import type { Request } from "./request.ts";
import type { Transport } from "./transport.ts";

type State = Pick<KernelState, "publisher" | "input" | "log">;

function publish(
  output: Output,
  request: Request,
  pages: JsonObject[],
  { publisher, log }: State,
): void {
  const isComm = output.type.startsWith("comm_");
  if (request.silent && !isComm) return;
  switch (output.type) {
    case "stream":
      publisher.publishText(output.name, output.text, request);
      break;
    case "display_data":
    case "update_display_data": {
      const { type, data, metadata, displayId } = output;
      publisher.publish(type, {
        data: wireBundle(data),
        metadata,
        transient: displayId === null ? {} : { display_id: displayId },
      }, request);
      break;
    }
    case "clear_output":
      publisher.publish("clear_output", { wait: output.wait }, request);
      break;
    case "page":
      if (request.ended) log("A page was dropped as its cell had ended");
      pages.push({ source: "page", data: wireBundle(output.data), start: 0 });
      break;
    default: {
      const { type, commId, targetName, data, metadata, buffers } = output;
      const content: JsonObject = { comm_id: commId, data };
      if (type === "comm_open") content["target_name"] = targetName ?? "";
      publisher.publish(type, content, request, metadata, buffers);
    }
  }
}

/** What an interpreter may do for a request; passed along, never global. */
export function createRequestContext(
  request: Request,
  state: State,
  transport: Transport,
  pages: JsonObject[],
): RequestContext {
  return {
    requestId: request.message.header.msg_id,
    publish: (output) => publish(output, request, pages, state),
    requestInput: (prompt, password) => {
      state.publisher.flushText();
      return state.input.ask(request, prompt, password);
    },
    ready: () => transport.drained(),
  };
}
