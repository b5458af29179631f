import { flagField, integerField } from "../content.ts";
import type { Handler } from "../handler.ts";
import { findHistory } from "../history_query.ts";

/** Gives what was run, in this session and before. */
export const history: Handler = async ({ message: { content } }, kernel) => {
  const access = content["hist_access_type"];
  if (access !== "tail" && access !== "range" && access !== "search") {
    throw new RangeError(
      `Cannot read the history as 'hist_access_type' must be "tail", "range" or "search": current value is ${
        JSON.stringify(access)
      }`,
    );
  }
  const { pattern } = content;
  const entries = await findHistory(kernel.history, {
    access,
    count: integerField(content, "n"),
    session: integerField(content, "session") ?? 0,
    start: integerField(content, "start"),
    stop: integerField(content, "stop"),
    pattern: typeof pattern === "string" ? pattern : "*",
    unique: flagField(content, "unique", false),
  });
  const output = flagField(content, "output", false);
  return {
    content: {
      status: "ok",
      history: entries.map((entry) => [
        entry.session,
        entry.line,
        output ? [entry.input, entry.output] : entry.input,
      ]),
    },
  };
};
