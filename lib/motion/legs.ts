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
    const sign = rise > 0 ? 1 : -1;
    const level = (part: number) => from + part * rise;
    // What comes after the first crossing of one level and before the last one
    // of another has passed those between.
    const up20 = firstBeyond(samples, first, last, level(0.2), sign);
    const up50 = firstBeyond(samples, up20, last, level(0.5), sign);
    const up80 = firstBeyond(samples, up50, last, level(0.8), sign);
    const down80 = lastBelow(samples, last, first, level(0.8), sign);
    const down50 = lastBelow(samples, down80, first, level(0.5), sign);
    const down20 = lastBelow(samples, down50, first, level(0.2), sign);
    const t20 = meanCrossing(samples, up20, down20, level(0.2));
    const t80 = meanCrossing(samples, up80, down80, level(0.8));
    slope[k] = sign;
    low[k] = t20;
    middle[k] = meanCrossing(samples, up50, down50, level(0.5));
    duration[k] = Math.max(shortest, t80 - t20);
    height[k] = Math.abs(rise) / fullHeight;
  }
  return { count, slope, low, middle, duration, height };
}

/** The sample before the first that lies beyond a level, from `first` on. */
function firstBeyond(
  samples: ArrayLike<number>,
  first: number,
  last: number,
  level: number,
  sign: number,
): number {
  let i = first;
  while (i < last && sign * (samples[i + 1]! - level) < 0) i++;
  return i;
}

/** The sample after the last that lies below a level, from `last` back. */
function lastBelow(
  samples: ArrayLike<number>,
  last: number,
  first: number,
  level: number,
  sign: number,
): number {
  let i = last;
  while (i > first && sign * (samples[i - 1]! - level) >= 0) i--;
  return i;
}

/** Mean of the first and the last crossing of a level, in samples. */
function meanCrossing(
  samples: ArrayLike<number>,
  up: number,
  down: number,
  level: number,
): number {
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
