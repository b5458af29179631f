import type {
  ExecuteOutcome,
  Interpreter,
  Output,
} from "../kernel/protocol/mod.ts";
import { type OutputCollector, progressOf } from "./collect_outputs.ts";
import { joinText, type NotebookCell } from "./notebook.ts";
import type { CellReport } from "./run_types.ts";

/** What one run of a cell depends on. */
export interface CellRunInput {
  readonly index: number;
  readonly count: number;
  readonly timeout: number;
  readonly signal: AbortSignal | null;
  /** Told what the cell does, where it takes longer than a second. */
  readonly onWork: (text: string) => void;
}

/** Runs one cell and puts its outputs into it. */
export async function runCell(
  interpreter: Interpreter,
  collector: OutputCollector,
  cell: NotebookCell,
  { index, count, timeout, signal, onWork }: CellRunInput,
): Promise<CellReport> {
  const begin = performance.now();
  let stop: "timeout" | "aborted" | null = null;
  const interrupt = (why: "timeout" | "aborted") => {
    stop ??= why;
    void interpreter.interrupt();
  };
  const timer = Number.isFinite(timeout)
    ? setTimeout(() => interrupt("timeout"), timeout * 1000)
    : undefined;
  const abort = () => interrupt("aborted");
  signal?.addEventListener("abort", abort);
  cell.execution_count = count;
  let outcome: ExecuteOutcome;
  try {
    outcome = await interpreter.execute({
      code: joinText(cell.source),
      executionCount: count,
      cellId: cell.id,
      silent: false,
      userExpressions: {},
    }, {
      requestId: `${cell.id}-${count}`,
      publish: (output: Output) => {
        const work = progressOf(output);
        if (work === null) collector.add(cell, output);
        else onWork(work);
      },
      requestInput: () => {
        const error = new Error(
          "Cannot ask for input as nobody sits at a headless run",
        );
        error.name = "InputNotAllowedError";
        return Promise.reject(error);
      },
      ready: () => Promise.resolve(),
    });
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    outcome = {
      status: "error",
      sessionLost: true,
      ename: "DeadSession",
      evalue: message,
      traceback: [message],
    };
  } finally {
    clearTimeout(timer);
    signal?.removeEventListener("abort", abort);
  }
  const duration = (performance.now() - begin) / 1000;
  if (outcome.status === "ok") {
    if (outcome.result) {
      cell.outputs!.push({
        output_type: "execute_result",
        execution_count: count,
        ...outcome.result,
      });
    }
    return { index, id: cell.id, status: "ok", duration, error: null };
  }
  const { ename, evalue, traceback, sessionLost } = outcome;
  const message = stop === "timeout"
    ? `The cell took longer than its limit of ${timeout} s. ${evalue}`
    : evalue;
  cell.outputs!.push({
    output_type: "error",
    ename,
    evalue: message,
    traceback: [...traceback],
  });
  const line = /^cell \[(\d+)\] line (\d+)/.exec(traceback[0] ?? "");
  return {
    index,
    id: cell.id,
    status: stop ?? (sessionLost ? "dead" : "error"),
    duration,
    error: {
      ename,
      message,
      line: line === null ? null : Number(line[2]),
      traceback,
    },
  };
}
