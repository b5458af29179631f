import { CellInterpreter } from "../../../lib/kernel/interpreter/mod.ts";
import type {
  ExecuteOutcome,
  Output,
} from "../../../lib/kernel/protocol/interpreter.ts";

/** What became of a cell in a test. */
export interface Ran {
  /** `text/plain` of the value; `null` where there is none. */
  readonly value: string | null;
  readonly outcome: ExecuteOutcome;
  readonly outputs: Output[];
  /** Text of both streams. */
  readonly text: string;
  /** Name, message and traceback of the error, as one text. */
  readonly error: string;
}

let started: Promise<CellInterpreter> | null = null;
let count = 0;

/** The interpreter of this test process, in a folder of its own. */
export function interpreterForTests(): Promise<CellInterpreter> {
  return started ??= (async () => {
    const interpreter = new CellInterpreter({
      baseUrl: new URL("./fixtures/", import.meta.url).href,
      config: await Deno.readTextFile(
        new URL("../../../deno.json", import.meta.url),
      ),
      viewer: async (value) => {
        const { bundleOfKnown } = await import("../../../lib/display/mod.ts");
        return await bundleOfKnown(value);
      },
    });
    await interpreter.start();
    return interpreter;
  })();
}

/** Runs a cell in the interpreter of this test process. */
export async function cell(
  code: string,
  userExpressions: Record<string, string> = {},
): Promise<Ran> {
  const interpreter = await interpreterForTests();
  const outputs: Output[] = [];
  const outcome = await interpreter.execute({
    code,
    executionCount: ++count,
    cellId: null,
    silent: false,
    userExpressions,
  }, {
    publish: (output) => outputs.push(output),
    requestInput: (prompt) => Promise.resolve(`answer to ${prompt}`),
  });
  return describeRun(outcome, outputs);
}

/** Puts an outcome in a form that is easy to check. */
export function describeRun(
  outcome: ExecuteOutcome,
  outputs: Output[],
): Ran {
  const failed = outcome.status === "error";
  return {
    outcome,
    outputs,
    value: failed || outcome.result === null
      ? null
      : String(outcome.result.data["text/plain"]),
    text: outputs.map((output) => output.type === "stream" ? output.text : "")
      .join(""),
    error: failed
      ? [`${outcome.ename}: ${outcome.evalue}`, ...outcome.traceback].join("\n")
      : "",
  };
}

/** Number of the cell that ran last. */
export function lastCount(): number {
  return count;
}
