import { wireBundle } from "../bundle.ts";
import { codeAndCursor, integerField, textField } from "../content.ts";
import type { Handler, KernelState } from "../handler.ts";

/** An answer that takes longer is of no use to who types, in ms. */
const ANSWER_TIME = 10_000;

/** Asks the interpreter, but never blocks the cells behind for ever. */
async function ask<T>(
  { interpreter, started }: KernelState,
  question: (interpreter: KernelState["interpreter"]) => Promise<T>,
): Promise<T> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const late = new Promise<never>((_, reject) => {
    timer = setTimeout(
      () => reject(new Error("The session does not answer")),
      ANSWER_TIME,
    );
  });
  const answer = started.then(() => question(interpreter));
  return await Promise.race([answer, late]).finally(() => clearTimeout(timer));
}

/** Completes the name before the cursor. */
export const complete: Handler = async ({ message }, kernel) => {
  const { code, cursor } = codeAndCursor(message.content);
  const { matches, cursorStart, cursorEnd, metadata } = await ask(
    kernel,
    (interpreter) => interpreter.complete(code, cursor),
  );
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
  const { found, data, metadata } = await ask(
    kernel,
    (interpreter) => interpreter.inspect(code, cursor, detail),
  );
  return { content: { status: "ok", found, data: wireBundle(data), metadata } };
};

/** Tells whether a piece of code can be run as it is. */
export const isComplete: Handler = async ({ message }, kernel) => {
  const code = textField(message.content, "code");
  const { status, indent } = await ask(
    kernel,
    (interpreter) => interpreter.isComplete(code),
  );
  return {
    content: status === "incomplete" ? { status, indent } : { status },
  };
};
