import { checkpoint } from "../progress/mod.ts";
import type { Extremes } from "./extremes.ts";

/** A swing counts that has so much of the largest around it (1). */
const leastHeight = 0.85;
/** Swings before and after one among which the largest is sought. */
const reach = 6;

/** The middle of a whole swing of the fringes. */
export interface SwingMiddle {
  /** Samples of its two extremes. */
  readonly first: number;
  readonly last: number;
  /** Where the middle is, in samples; whole or half. */
  readonly place: number;
  /** Level, in the unit of the signal. */
  readonly level: number;
  /**
   * How much longer fringes rise than they fall there, over both (1): it tells the
   * way the target goes, on which the levels depend where C is above 1.
   */
  readonly lean: number;
}

/**
 * Middles of the swings that are as high as those around them: in the others the
 * target turns within a fringe.
 *
 * @param extremes Maxima and minima in turn.
 * @returns The middles in order of time.
 */
export function wholeSwings(
  { index, value, startsWithMaximum }: Extremes,
): SwingMiddle[] {
  const count = Math.max(0, index.length - 1);
  const heights = Float64Array.from(
    { length: count },
    (_, k) => Math.abs(value[k + 1]! - value[k]!),
  );
  const time = (k: number) => index[k + 1]! - index[k]!;
  const middles: SwingMiddle[] = [];
  for (let k = 0; k < count; k++) {
    if ((k & 0xffff) === 0) checkpoint(NaN, "look for whole fringes");
    const around = heights.subarray(Math.max(0, k - reach), k + reach + 1);
    if (heights[k]! < leastHeight * Math.max(...around)) continue;
    const beside =
      (time(Math.max(0, k - 1)) + time(Math.min(count - 1, k + 1))) / 2;
    const rises = (k % 2 === 0) !== startsWithMaximum;
    const longer = (time(k) - beside) / (time(k) + beside);
    middles.push({
      first: index[k]!,
      last: index[k + 1]!,
      place: (index[k]! + index[k + 1]!) / 2,
      level: (value[k]! + value[k + 1]!) / 2,
      lean: rises ? longer : -longer,
    });
  }
  return middles;
}
