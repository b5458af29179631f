import { requireFunction } from "../options/mod.ts";

/** What was finished, by the error with which somebody stopped a computation. */
const finishedBefore = new WeakMap<object, Record<string, unknown>>();

/** Notes that an error stops a computation at a checkpoint. */
export function noteStop(error: unknown): void {
  if (typeof error !== "object" || error === null) return;
  if (!finishedBefore.has(error)) finishedBefore.set(error, {});
}

/**
 * Runs one part of a computation of several. Where somebody stops it at a
 * checkpoint, what was finished before goes with the error.
 *
 * @param finished What was finished, by name.
 * @param work The part.
 * @returns What the part returns.
 * @throws What the part throws; see {@linkcode finishedParts}.
 *
 * @example
 * ```ts
 * import {
 *   checkpoint,
 *   finishedParts,
 *   keepFinished,
 *   setCheckpointHandler,
 * } from "fringebook/progress";
 * import { expect } from "vitest";
 *
 * const before = setCheckpointHandler(() => {
 *   throw new Error("stopped");
 * });
 * try {
 *   keepFinished({ sum: 3 }, () => checkpoint(0.5));
 * } catch (error) {
 *   expect(finishedParts(error)).toEqual({ sum: 3 });
 * } finally {
 *   setCheckpointHandler(before);
 * }
 * ```
 */
export function keepFinished<T>(
  finished: Readonly<Record<string, unknown>>,
  work: () => T,
): T {
  requireFunction(work, "work", "keep what was finished");
  try {
    return work();
  } catch (error) {
    if (typeof error === "object" && error !== null) {
      const parts = finishedBefore.get(error);
      if (parts) finishedBefore.set(error, { ...finished, ...parts });
    }
    throw error;
  }
}

/**
 * What was finished before somebody stopped a computation.
 *
 * @param error What was thrown.
 * @returns The finished parts by name; `null` where there are none.
 *
 * @example
 * ```ts
 * import { finishedParts } from "fringebook/progress";
 * import { expect } from "vitest";
 *
 * expect(finishedParts(new Error("of another kind"))).toBe(null);
 * ```
 */
export function finishedParts(
  error: unknown,
): Readonly<Record<string, unknown>> | null {
  if (typeof error !== "object" || error === null) return null;
  const parts = finishedBefore.get(error);
  return parts === undefined || Object.keys(parts).length === 0 ? null : parts;
}
