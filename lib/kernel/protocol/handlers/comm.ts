import { objectField, textField } from "../content.ts";
import type { Handler } from "../handler.ts";

/** Tells the open comms. */
export const commInfo: Handler = ({ message }, { interpreter }) => {
  const wanted = message.content["target_name"];
  const comms: Record<string, { target_name: string }> = {};
  for (const [id, target_name] of interpreter.comms()) {
    if (typeof wanted !== "string" || wanted === "" || wanted === target_name) {
      comms[id] = { target_name };
    }
  }
  return { content: { status: "ok", comms } };
};

/** Hands a comm message over; an open for an unknown target is closed again. */
export const comm: Handler = async (request, kernel) => {
  const { header, content, metadata, buffers } = request.message;
  const type = header.msg_type as "comm_open" | "comm_msg" | "comm_close";
  const commId = textField(content, "comm_id");
  const targetName = content["target_name"];
  await kernel.started;
  kernel.running = request;
  try {
    const known = await kernel.interpreter.comm({
      type,
      commId,
      targetName: typeof targetName === "string" ? targetName : null,
      data: objectField(content, "data"),
      metadata,
      buffers: [...buffers],
    }, kernel.context(request));
    if (known) return null;
  } finally {
    kernel.running = null;
  }
  if (type === "comm_open") {
    kernel.publisher.publish(
      "comm_close",
      { comm_id: commId, data: {} },
      request,
    );
    kernel.log(`Nobody takes comms for the target '${targetName}'`);
  } else kernel.log(`No comm has the id '${commId}'`);
  return null;
};
