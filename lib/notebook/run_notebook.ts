import { dirname, resolve } from "@std/path";
import { encodeHex } from "@std/encoding";
import type {
  ExecuteOutcome,
  Interpreter,
  Output,
} from "../kernel/protocol/interpreter.ts";
import {
  SessionInterpreter,
  type SessionOptions,
} from "../kernel/session/mod.ts";
import { OutputCollector } from "./collect_outputs.ts";
import {
  cellTags,
  joinText,
  type Notebook,
  type NotebookCell,
} from "./notebook.ts";
import { injectParameters } from "./parameters.ts";
import { readNotebook } from "./read_notebook.ts";
import { writeNotebook } from "./write_notebook.ts";

/**
 * How a cell ended. `dead`: its session ended under it. `aborted`: the run was
 * stopped from outside. Only `ok` and an allowed `error` are no failures.
 */
export type CellStatus =
  | "ok"
  | "error"
  | "timeout"
  | "dead"
  | "aborted"
  | "not run";

/** What became of one code cell. */
export interface CellReport {
  /** Position among all cells of the executed notebook, from 0. */
  readonly index: number;
  readonly id: string;
  readonly status: CellStatus;
  /** Time taken, in s. */
  readonly duration: number;
  /** The error, where there was one. */
  readonly error: CellFailure | null;
}

/** An error of a cell, for people and for machines. */
export interface CellFailure {
  readonly ename: string;
  readonly message: string;
  /** Line in the cell, from 1; `null` where it is not known. */
  readonly line: number | null;
  readonly traceback: readonly string[];
}

/** What became of a notebook. */
export interface NotebookRun {
  readonly path: string;
  readonly outputPath: string;
  /** `kept`: an earlier run of the same text was taken over. */
  readonly status: "ok" | "failed" | "kept";
  readonly cells: readonly CellReport[];
  /** Position in `cells` of the first failure; `null` where there is none. */
  readonly failed: number | null;
  /** Time taken, in s. */
  readonly duration: number;
  /** One line for people. */
  readonly summary: string;
  /** The executed notebook. */
  readonly notebook: Notebook;
}

/** What a run tells while it goes on. */
export interface RunProgress {
  readonly path: string;
  /** Number of code cells that have ended. */
  readonly done: number;
  /** Number of code cells. */
  readonly total: number;
  /** The cell that has just ended; `null` at the start. */
  readonly cell: CellReport | null;
}

/** Options of {@linkcode runNotebook}. */
export interface RunOptions {
  /**
   * Where the executed notebook goes.
   *
   * @default {path}
   */
  outputPath?: string;
  /**
   * Longest time of one cell, in s.
   *
   * @default {Infinity}
   */
  timeout?: number;
  /**
   * Values for the cell tagged `parameters`.
   *
   * @default {{}}
   */
  parameters?: Readonly<Record<string, unknown>>;
  /**
   * Whether the run goes on after a cell that throws, and counts as good.
   *
   * @default {false}
   */
  allowErrors?: boolean;
  /**
   * Whether a good earlier result in `outputPath`, of the same text and
   * parameters, is taken over.
   *
   * @default {false}
   */
  resume?: boolean;
  /**
   * Told after each cell.
   *
   * @default {() => {}}
   */
  onProgress?: (progress: RunProgress) => void;
  /**
   * Stops the run; cells that did not run are `not run`.
   *
   * @default {null}
   */
  signal?: AbortSignal | null;
  /**
   * Options of the session, such as grants and the limit of memory.
   *
   * @default {{}}
   */
  session?: SessionOptions;
  /**
   * Makes the interpreter.
   *
   * @default {(options) => new SessionInterpreter(options)}
   */
  createInterpreter?: (options: SessionOptions) => Interpreter;
}

/** Key of this project's part of a notebook's metadata. */
const metadataKey = "fringebook";

/**
 * Runs all code cells of a notebook from top to bottom in a fresh session and
 * saves the executed notebook, also when a cell fails.
 *
 * @param path The notebook.
 * @param options Where to save, limits, parameters.
 * @returns What became of each cell. A failing cell is a failing run: it does
 * not throw.
 * @throws {SyntaxError} If the file is not a notebook.
 * @throws {RangeError} If a parameter cannot be set.
 */
export async function runNotebook(
  path: string,
  options: RunOptions = {},
): Promise<NotebookRun> {
  const {
    outputPath = path,
    timeout = Infinity,
    parameters = {},
    allowErrors = false,
    resume = false,
    onProgress = () => {},
    signal = null,
    session = {},
    createInterpreter = (given) => new SessionInterpreter(given),
  } = options;
  if (!(timeout > 0)) {
    throw new RangeError(
      `Cannot run a notebook as 'timeout' must be a positive number of s: current value is ${timeout}`,
    );
  }
  const begin = performance.now();
  const notebook = await readNotebook(path);
  const fingerprint = await fingerprintOf(notebook, parameters);
  if (resume) {
    const kept = await earlierRun(outputPath, fingerprint);
    if (kept) {
      return {
        path,
        outputPath,
        status: "kept",
        cells: [],
        failed: null,
        duration: 0,
        summary: "kept: it ran well before and has not changed",
        notebook: kept,
      };
    }
  }
  await injectParameters(notebook, parameters);
  const codeCells = notebook.cells
    .map((cell, index) => ({ cell, index }))
    .filter(({ cell }) =>
      cell.cell_type === "code" && joinText(cell.source).trim() !== ""
    );
  for (const cell of notebook.cells) {
    if (cell.cell_type === "code") {
      Object.assign(cell, { outputs: [], execution_count: null });
    }
  }
  const interpreter = createInterpreter({
    notebookFolder: resolve(dirname(path)),
    ...session,
  });
  const collector = new OutputCollector();
  const reports: CellReport[] = [];
  let failed: number | null = null;
  let lastSave = performance.now();
  onProgress({ path, done: 0, total: codeCells.length, cell: null });
  try {
    await interpreter.start();
    let count = 0;
    for (const { cell, index } of codeCells) {
      const stopped = failed !== null || signal?.aborted === true;
      const report = stopped
        ? emptyReport(index, cell)
        : await runCell(interpreter, collector, cell, {
          index,
          count: ++count,
          timeout,
          signal,
        });
      reports.push(report);
      const allowed = report.status === "ok" || report.status === "not run" ||
        report.status === "error" &&
          (allowErrors || cellTags(cell).includes("raises-exception"));
      if (!allowed && failed === null) failed = reports.length - 1;
      onProgress({
        path,
        done: reports.length,
        total: codeCells.length,
        cell: report,
      });
      if (performance.now() - lastSave > 5000) {
        await writeNotebook(outputPath, notebook);
        lastSave = performance.now();
      }
    }
  } finally {
    await interpreter.close();
    const good = failed === null && reports.length === codeCells.length &&
      reports.every(({ status }) => status !== "not run");
    notebook.metadata[metadataKey] = {
      ...notebook.metadata[metadataKey] as object | undefined,
      run: { status: good ? "ok" : "failed", fingerprint },
    };
    await writeNotebook(outputPath, notebook);
  }
  const missing = reports.findIndex(({ status }) => status === "not run");
  const first = failed ?? (missing < 0 ? null : missing);
  return {
    path,
    outputPath,
    status: first === null ? "ok" : "failed",
    cells: reports,
    failed: first,
    duration: (performance.now() - begin) / 1000,
    summary: summaryOf(reports, first),
    notebook,
  };
}

interface CellRunInput {
  readonly index: number;
  readonly count: number;
  readonly timeout: number;
  readonly signal: AbortSignal | null;
}

async function runCell(
  interpreter: Interpreter,
  collector: OutputCollector,
  cell: NotebookCell,
  { index, count, timeout, signal }: CellRunInput,
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
      publish: (output: Output) => collector.add(cell, output),
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

function emptyReport(index: number, { id }: NotebookCell): CellReport {
  return { index, id, status: "not run", duration: 0, error: null };
}

function summaryOf(reports: readonly CellReport[], failed: number | null) {
  const good = reports.filter(({ status }) => status === "ok").length;
  const report = failed === null ? undefined : reports[failed];
  if (!report) return `${good} of ${reports.length} cells ran well`;
  const { index, id, status, error } = report;
  const where = `cell ${index + 1} (${id})${
    error?.line ? `, line ${error.line}` : ""
  }`;
  const what = error
    ? `${error.ename}: ${error.message.split("\n")[0]}`
    : "the run was stopped before it";
  return `${status} in ${where}: ${what}`;
}

async function fingerprintOf(
  notebook: Notebook,
  parameters: Readonly<Record<string, unknown>>,
): Promise<string> {
  const code = notebook.cells
    .filter((cell) =>
      cell.cell_type === "code" &&
      !cellTags(cell).includes("injected-parameters")
    )
    .map(({ source }) => joinText(source));
  const bytes = new TextEncoder().encode(JSON.stringify([code, parameters]));
  return encodeHex(await crypto.subtle.digest("SHA-256", bytes));
}

async function earlierRun(
  path: string,
  fingerprint: string,
): Promise<Notebook | null> {
  try {
    const notebook = await readNotebook(path);
    const own = notebook.metadata[metadataKey] as
      | { run?: { status?: string; fingerprint?: string } }
      | undefined;
    const { status, fingerprint: before } = own?.run ?? {};
    return status === "ok" && before === fingerprint ? notebook : null;
  } catch {
    return null;
  }
}
