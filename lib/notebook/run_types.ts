import type { Interpreter } from "../kernel/protocol/mod.ts";
import type { SessionOptions } from "../kernel/session/mod.ts";
import type { Notebook } from "./notebook.ts";

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
  /** Id of the cell in the notebook. */
  readonly id: string;
  /** What became of it. */
  readonly status: CellStatus;
  /** Time taken, in s. */
  readonly duration: number;
  /** The error, where there was one. */
  readonly error: CellFailure | null;
}

/** An error of a cell, for people and for machines. */
export interface CellFailure {
  /** Name of the error. */
  readonly ename: string;
  /** Its message. */
  readonly message: string;
  /** Line in the cell, from 1; `null` where it is not known. */
  readonly line: number | null;
  /** Its trace, line by line. */
  readonly traceback: readonly string[];
}

/** What became of a notebook. */
export interface NotebookRun {
  /** The notebook as it was read. */
  readonly path: string;
  /** Where the executed notebook was saved. */
  readonly outputPath: string;
  /** `kept`: an earlier run of the same text was taken over. */
  readonly status: "ok" | "failed" | "kept";
  /** One report per code cell. */
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
  /** The notebook that runs. */
  readonly path: string;
  /** Number of code cells that have ended. */
  readonly done: number;
  /** Number of code cells. */
  readonly total: number;
  /** The cell that has just ended; `null` at the start. */
  readonly cell: CellReport | null;
}

/** What a cell that takes long tells of its work. */
export interface RunWork {
  /** The notebook that runs. */
  readonly path: string;
  /** Number of code cells that have ended. */
  readonly done: number;
  /** Number of code cells. */
  readonly total: number;
  /** What the running cell does, how far it is and how long still, in words. */
  readonly text: string;
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
   * Whether a good earlier result in `outputPath`, of the same code, parameters,
   * files beside it and version of the library, is taken over; only one that
   * this machine signed and nobody has changed since.
   *
   * @default {false}
   */
  resume?: boolean;
  /**
   * File of the key with which runs are signed, made where it is missing; `null`
   * for none, so that nothing is taken over. Cells cannot read it.
   *
   * @default {runKeyFile()}
   */
  keyFile?: string | null;
  /**
   * Told after each cell.
   *
   * @default {() => {}}
   */
  onProgress?: (progress: RunProgress) => void;
  /**
   * Told what a cell that takes longer than a second does, several times a
   * second.
   *
   * @default {() => {}}
   */
  onWork?: (work: RunWork) => void;
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
