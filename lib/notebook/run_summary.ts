import type { CellStatus } from "./run_types.ts";
import type { NotebookOutcome } from "./run_many.ts";

/** What became of a set of notebooks, for machines; JSON values only. */
export interface RunSummary {
  /** Whether every notebook ran well. */
  readonly ok: boolean;
  /** One entry per notebook. */
  readonly notebooks: readonly {
    readonly path: string;
    readonly outputPath: string;
    /** `error`: the file is no notebook, a parameter cannot be set, or the result cannot be saved. */
    readonly status: "ok" | "failed" | "kept" | "error";
    /** One line for people. */
    readonly summary: string;
    /** In s. */
    readonly duration: number;
    readonly cells: readonly {
      /** Position among all cells, from 1. */
      readonly cell: number;
      readonly id: string;
      readonly status: CellStatus;
      /** In s. */
      readonly duration: number;
      readonly ename: string | null;
      readonly message: string | null;
      /** Line in the cell, from 1. */
      readonly line: number | null;
    }[];
  }[];
}

/** Makes the summary of a set of notebooks. */
export function runSummary(outcomes: readonly NotebookOutcome[]): RunSummary {
  const notebooks = outcomes.map(({ path, outputPath, run, error }) =>
    run === null
      ? {
        path,
        outputPath,
        status: "error" as const,
        summary: error.message,
        duration: 0,
        cells: [],
      }
      : {
        path,
        outputPath,
        status: run.status,
        summary: run.summary,
        duration: run.duration,
        cells: run.cells.map((cell) => ({
          cell: cell.index + 1,
          id: cell.id,
          status: cell.status,
          duration: cell.duration,
          ename: cell.error?.ename ?? null,
          message: cell.error?.message ?? null,
          line: cell.error?.line ?? null,
        })),
      }
  );
  const ok = notebooks.every(({ status }) =>
    status === "ok" || status === "kept"
  );
  return { ok, notebooks };
}
