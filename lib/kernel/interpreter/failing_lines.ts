import type { ExecuteOutcome } from "../protocol/interpreter.ts";
import { awaitsOf } from "./positions.ts";
import { framesOf } from "./stack.ts";

/** How a cell ended, and at which of its lines an error passed. */
export type CellOutcome =
  | Extract<ExecuteOutcome, { status: "ok" }>
  | Extract<ExecuteOutcome, { status: "error" }> & {
    /** Lines of the cell that ran, from 1, the innermost first. */
    readonly failingLines: readonly number[];
  };

/**
 * The lines of a cell that an error passed.
 *
 * @param error What was thrown; anything.
 * @param ordinal Number of the run.
 * @returns Lines from 1, the innermost first; empty where none is known.
 */
export function failingLines(error: unknown, ordinal: number): number[] {
  const frames = framesOf(error).flatMap(({ cell }) => cell ?? []);
  const lines = [...frames, ...awaitsOf(error)]
    .filter((position) => position.ordinal === ordinal)
    .map(({ line }) => line);
  return [...new Set(lines)];
}
