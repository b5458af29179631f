import { wireBundle } from "../bundle.ts";
import { flagField, objectField, textField } from "../content.ts";
import type { Handler, KernelState, Reply } from "../handler.ts";
import { InterruptedError } from "../input_errors.ts";
import type { ExecuteOutcome } from "../interpreter.ts";
import type { JsonObject } from "../message.ts";
import type { Request } from "../request.ts";

/** An error of ours or of the interpreter's, as the outcome of a cell. */
function asOutcome(error: unknown): ExecuteOutcome {
  const { name, message } = error instanceof Error
    ? error
    : { name: "Error", message: String(error) };
  return {
    status: "error",
    ename: name,
    evalue: message,
    traceback: [`${name}: ${message}`],
    sessionLost: false,
  };
}

function userExpressions(content: JsonObject): Record<string, string> {
  return Object.fromEntries(
    Object.entries(objectField(content, "user_expressions"))
      .map(([name, expression]) => [name, String(expression)]),
  );
}

async function run(
  request: Request,
  kernel: KernelState,
  code: string,
  pages: JsonObject[],
): Promise<ExecuteOutcome> {
  const { content, metadata } = request.message;
  const cellId = metadata["cellId"];
  kernel.running = request;
  try {
    await kernel.started;
    if (request.interrupted) throw new InterruptedError("Interrupted");
    return await kernel.interpreter.execute({
      code,
      executionCount: kernel.executionCount,
      cellId: typeof cellId === "string" ? cellId : null,
      silent: request.silent,
      userExpressions: userExpressions(content),
    }, kernel.context(request, pages));
  } catch (error) {
    return asOutcome(error);
  } finally {
    kernel.running = null;
    kernel.input.withdraw(request);
  }
}

async function failed(
  request: Request,
  kernel: KernelState,
  outcome: ExecuteOutcome & { status: "error" },
): Promise<Reply> {
  const { ename, evalue, traceback } = outcome;
  if (!request.silent) {
    kernel.publisher.publish("error", { ename, evalue, traceback }, request);
    if (flagField(request.message.content, "stop_on_error", true)) {
      // Cells sent together with this one may still be on their way; cells sent
      // after its reply was seen must run
      await new Promise((resolve) => setTimeout(resolve, kernel.settleTime));
      kernel.abortThrough = kernel.shellArrivals;
    }
  }
  const execution_count = kernel.executionCount;
  return {
    content: { status: "error", execution_count, ename, evalue, traceback },
  };
}

/** Runs a cell. */
export const execute: Handler = async (request, kernel) => {
  const { content } = request.message;
  const { history, publisher } = kernel;
  const stores = !request.silent && flagField(content, "store_history", true);
  if (request.arrival <= kernel.abortThrough) {
    const execution_count = kernel.executionCount;
    return { content: { status: "aborted", execution_count } };
  }
  const code = textField(content, "code");
  if (stores) kernel.executionCount++;
  const execution_count = kernel.executionCount;
  if (!request.silent) {
    publisher.publish("execute_input", { code, execution_count }, request);
  }
  if (stores) history.recordInput(execution_count, code);

  const pages: JsonObject[] = [];
  const outcome = await run(request, kernel, code, pages);
  publisher.flushText();
  if (outcome.status === "error") return failed(request, kernel, outcome);

  if (outcome.result !== null) {
    const data = wireBundle(outcome.result.data);
    if (!request.silent) {
      const { metadata } = outcome.result;
      publisher.publish(
        "execute_result",
        { data, metadata, execution_count, transient: {} },
        request,
      );
    }
    if (stores) {
      history.recordOutput(execution_count, String(data["text/plain"] ?? ""));
    }
  }
  return {
    content: {
      status: "ok",
      execution_count,
      user_expressions: outcome.userExpressions,
      payload: pages,
    },
  };
};
