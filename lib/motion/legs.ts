import type { Extremes } from "./extremes.ts";

/** Monotone pieces of the signal between neighbouring extremes. */
export interface Legs {
  /** How many there are. */
  readonly count: number;
  /** Whether the leg rises: 1, or falls: -1. */
  readonly slope: Int8Array;
  /** Where the leg passes 20 % of its height, in samples. */
  readonly low: Float64Array;
  /** Where it passes half of its height, in samples. */
  readonly middle: Float64Array;
  /** Time from 20 % to 80 % of its height, in samples, at least 0.6. */
  readonly duration: Float64Array;
  /** Height of the leg over the full fringe's (1). */
  readonly height: Float64Array;
}

/** One sample of a jump takes about so long from 20 % to 80 %, in samples. */
const shortest = 0.6;

/**
 * Cuts a signal into legs between its extremes and times them at 20 %, 50 % and
 * 80 % of their own height.
 *
 * @param samples The signal.
 * @param extremes Its extremes.
 * @param fullHeight Peak-to-peak value of a whole fringe, in the unit of the
 * signal.
 * @returns One leg fewer than extremes.
 */
export function cutLegs(
  samples: ArrayLike<number>,
  extremes: Extremes,
  fullHeight: number,
): Legs {
  const count = Math.max(0, extremes.index.length - 1);
  const slope = new Int8Array(count);
  const low = new Float64Array(count);
  const middle = new Float64Array(count);
  const duration = new Float64Array(count);
  const height = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    const first = extremes.index[k]!;
    const last = extremes.index[k + 1]!;
    const from = extremes.value[k]!;
    const rise = extremes.value[k + 1]! - from;
    const at = (part: number) =>
      crossing(samples, first, last, from + part * rise, rise > 0);
    const t20 = at(0.2);
    const t80 = at(0.8);
    slope[k] = rise > 0 ? 1 : -1;
    low[k] = t20;
    middle[k] = at(0.5);
    duration[k] = Math.max(shortest, t80 - t20);
    height[k] = Math.abs(rise) / fullHeight;
  }
  return { count, slope, low, middle, duration, height };
}

/** Mean of the first and the last crossing of a level, in samples. */
function crossing(
  samples: ArrayLike<number>,
  first: number,
  last: number,
  level: number,
  rising: boolean,
): number {
  const sign = rising ? 1 : -1;
  let up = first;
  while (up < last && sign * (samples[up + 1]! - level) < 0) up++;
  let down = last;
  while (down > first && sign * (samples[down - 1]! - level) >= 0) down--;
  return (between(samples, up, level) + between(samples, down - 1, level)) / 2;
}

function between(
  samples: ArrayLike<number>,
  i: number,
  level: number,
): number {
  const a = samples[i]!;
  const b = samples[i + 1]!;
  const part = b === a ? 0 : (level - a) / (b - a);
  return i + Math.min(1, Math.max(0, part));
}
