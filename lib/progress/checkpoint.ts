import { noteStop } from "./finished.ts";

/**
 * Called at each checkpoint with the fraction done (0 to 1, `NaN` if unknown)
 * and the name of the work. May throw to stop the computation.
 */
export type CheckpointHandler = (fraction: number, work: string) => void;

let handler: CheckpointHandler | null = null;

/**
 * Marks a point of a long computation where it may be interrupted. Long loops
 * of the library call it at least every 50 ms of work; it costs next to nothing
 * when nobody listens.
 *
 * @param fraction Fraction done, 0 to 1; `NaN` if unknown.
 * @param work Name of the work, such as `"unwrap phase"`; `""` where it is a small
 * part of other work, whose name is to stay.
 *
 * @example
 * ```ts
 * import { checkpoint } from "fringebook/progress";
 *
 * for (let block = 0; block < 10; block++) checkpoint(block / 10, "example");
 * ```
 */
export function checkpoint(fraction = NaN, work = ""): void {
  if (handler === null) return;
  try {
    handler(fraction, work);
  } catch (error) {
    noteStop(error);
    throw error;
  }
}

/**
 * Sets who listens to checkpoints.
 *
 * @param next The new listener, or `null` for none.
 * @returns The listener before.
 *
 * @example
 * ```ts
 * import { checkpoint, setCheckpointHandler } from "fringebook/progress";
 * import { expect } from "vitest";
 *
 * let seen = 0;
 * const before = setCheckpointHandler((fraction) => seen = fraction);
 * checkpoint(0.5);
 * setCheckpointHandler(before);
 * expect(seen).toBe(0.5);
 * ```
 */
export function setCheckpointHandler(
  next: CheckpointHandler | null,
): CheckpointHandler | null {
  const before = handler;
  handler = next;
  return before;
}
