import { wireBundle } from "../bundle.ts";
import { codeAndCursor, integerField, textField } from "../content.ts";
import type { Handler } from "../handler.ts";

/** Completes the name before the cursor. */
export const complete: Handler = async ({ message }, kernel) => {
  const { code, cursor } = codeAndCursor(message.content);
  await kernel.started;
  const { matches, cursorStart, cursorEnd, metadata } = await kernel.interpreter
    .complete(code, cursor);
  return {
    content: {
      status: "ok",
      matches,
      cursor_start: cursorStart,
      cursor_end: cursorEnd,
      metadata,
    },
  };
};

/** Tells of the name under the cursor. */
export const inspect: Handler = async ({ message }, kernel) => {
  const { code, cursor } = codeAndCursor(message.content);
  const detail = integerField(message.content, "detail_level") === 1 ? 1 : 0;
  await kernel.started;
  const { found, data, metadata } = await kernel.interpreter
    .inspect(code, cursor, detail);
  return { content: { status: "ok", found, data: wireBundle(data), metadata } };
};

/** Tells whether a piece of code can be run as it is. */
export const isComplete: Handler = async ({ message }, kernel) => {
  const { status, indent } = await kernel.interpreter
    .isComplete(textField(message.content, "code"));
  return {
    content: status === "incomplete" ? { status, indent } : { status },
  };
};
