import { checkpoint } from "../progress/mod.ts";
import { findExtremes } from "./extremes.ts";

/** Extremes on either side that are looked at. */
export const levelReach = 6;

/** The levels of the fringes along a record. */
export interface FringeLevels {
  /** Sample index of each extreme. */
  readonly index: Int32Array;
  /** Highest of the extremes around each, in the unit of the signal. */
  readonly upper: Float64Array;
  /** Lowest of them, in the unit of the signal. */
  readonly lower: Float64Array;
}

/**
 * Upper and lower level of the fringes around each extreme: the outermost of the
 * neighbours, so that turning points and the smaller swings of strong feedback do
 * not count.
 *
 * @param signal The signal; `NaN` is passed over.
 * @param scale Its amplitude and noise, in the unit of the signal.
 * @returns One entry per extreme.
 */
export function fringeLevels(
  signal: Float64Array,
  { amplitude, noise }: { readonly amplitude: number; readonly noise: number },
): FringeLevels {
  const { index, value } = findExtremes(
    signal,
    Math.max(0.12 * amplitude, 6 * noise),
  );
  const count = index.length;
  const upper = new Float64Array(count);
  const lower = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    if ((k & 0x3fff) === 0x3fff) checkpoint();
    let high = -Infinity;
    let low = Infinity;
    for (
      let m = Math.max(0, k - levelReach);
      m <= Math.min(count - 1, k + levelReach);
      m++
    ) {
      high = Math.max(high, value[m]!);
      low = Math.min(low, value[m]!);
    }
    upper[k] = high;
    lower[k] = low;
  }
  return { index, upper, lower };
}
