import type {
  ExecuteOutcome,
  ExecuteRequest,
  Interpreter,
  RequestContext,
} from "../../../lib/kernel/mod.ts";

/** What a test interpreter does with a cell. */
export type Run = (
  request: ExecuteRequest,
  context: RequestContext,
) => Promise<ExecuteOutcome> | ExecuteOutcome;

/** An outcome whose result is a text, or nothing. */
export function ok(text: string | null = null): ExecuteOutcome {
  const result = text === null
    ? null
    : { data: { "text/plain": text }, metadata: {} };
  return { status: "ok", result, userExpressions: {} };
}

/** An outcome that is an error. */
export function failure(ename: string, evalue = ""): ExecuteOutcome {
  const traceback = [`${ename}: ${evalue}`];
  return { status: "error", ename, evalue, traceback, sessionLost: false };
}

/** An interpreter that gives each cell's text back as its result. */
export function createEchoInterpreter(
  overrides: Partial<Omit<Interpreter, "execute">> & { execute?: Run } = {},
): Interpreter {
  const complete = { matches: [], metadata: {} };
  return {
    languageInfo: {
      name: "echo",
      version: "1",
      mimetype: "text/plain",
      file_extension: ".txt",
    },
    banner: "An echo",
    start: () => Promise.resolve(),
    complete: (_code, cursor) =>
      Promise.resolve({ ...complete, cursorStart: cursor, cursorEnd: cursor }),
    inspect: () => Promise.resolve({ found: false, data: {}, metadata: {} }),
    isComplete: () => Promise.resolve({ status: "complete", indent: "" }),
    comm: () => Promise.resolve(false),
    comms: () => new Map(),
    interrupt: () => Promise.resolve(),
    close: () => Promise.resolve(),
    ...overrides,
    execute: async (request, context) =>
      await (overrides.execute ?? (({ code }) => ok(code)))(request, context),
  };
}
