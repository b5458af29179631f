import { copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { type NumberSequence, requireFinite } from "./samples.ts";

/** What is removed: nothing, the mean, or the straight line of best fit. */
export type Detrending = "none" | "constant" | "linear";

const work = "remove a trend";
/** Samples between two checkpoints. */
const block = 1 << 17;

/**
 * Removes the mean or the straight line of best (least-squares) fit.
 *
 * @param samples Finite numbers, at least one.
 * @param type What to remove.
 * @returns A new array of the same length.
 * @throws {RangeError} If there are no samples or one is not finite.
 *
 * @example
 * ```ts
 * import { detrend } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * expect(Array.from(detrend([1, 2, 3], "constant"))).toEqual([-1, 0, 1]);
 * ```
 */
export function detrend(
  samples: NumberSequence,
  type: Detrending = "linear",
): Float64Array {
  requireFinite(samples, work);
  const out = copyOf(samples, work);
  removeTrend(out, type);
  return out;
}

/** Removes the trend in place. */
export function removeTrend(values: Float64Array, type: Detrending): void {
  if (type === "none") return;
  const count = values.length;
  let sum = 0;
  let moment = 0;
  const centre = (count - 1) / 2;
  // The innermost loops call nothing: sums stay in registers.
  for (let from = 0; from < count; from += block) {
    if (count > block) checkpoint(from / count / 2, work);
    const to = Math.min(count, from + block);
    for (let i = from; i < to; i++) {
      sum += values[i]!;
      moment += values[i]! * (i - centre);
    }
  }
  const mean = sum / count;
  // Σ (i − centre)² = N (N² − 1) / 12
  const slope = type === "linear" && count > 1
    ? 12 * moment / (count * (count * count - 1))
    : 0;
  for (let from = 0; from < count; from += block) {
    if (count > block) checkpoint(0.5 + from / count / 2, work);
    const to = Math.min(count, from + block);
    for (let i = from; i < to; i++) {
      values[i] = values[i]! - mean - slope * (i - centre);
    }
  }
}
