import { flagField } from "../content.ts";
import type { Handler } from "../handler.ts";

/** Stops the running cell; answers at once, before the cell has ended. */
export const interrupt: Handler = async (_request, kernel) => {
  await kernel.interrupt();
  return { content: { status: "ok" } };
};

/** Ends the kernel; also told to all on IOPub. */
export const shutdown: Handler = (request, kernel) => {
  const restart = flagField(request.message.content, "restart", false);
  const content = { status: "ok", restart };
  return {
    content,
    after: async () => {
      kernel.publisher.publish("shutdown_reply", content, request);
      await kernel.interpreter.close();
    },
  };
};
