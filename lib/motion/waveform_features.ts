import { ringingAfter } from "./waveform_ringing.ts";

/** A mean period, and what is needed to read times from it. */
export interface Period {
  /** Displacement at even places, in m. */
  readonly values: Float64Array;
  /** Length, in s. */
  readonly duration: number;
}

/** What can be read from a period; `NaN` where it has none of it. */
export interface WaveformFeatures {
  /** Largest minus smallest displacement, in m. */
  readonly peakToPeak: number;
  /** Root mean square about the mean, in m. */
  readonly rms: number;
  /** Levels at which it stays, or the peaks where it stays nowhere, in m. */
  readonly low: number;
  readonly high: number;
  /** Height from level to level, in m. */
  readonly step: number;
  /** Time between the reference levels of the rise and of the fall, in s. */
  readonly riseTime: number;
  readonly fallTime: number;
  /** Mean speed between the reference levels, in m/s. */
  readonly risingSlope: number;
  readonly fallingSlope: number;
  /** Part of the period above the middle level (1). */
  readonly dutyCycle: number;
  /** How far it runs beyond the level after a rise and a fall, over the step (1). */
  readonly overshoot: number;
  readonly undershoot: number;
  /** Ringing after the rise, else after the fall: natural frequency in Hz, ζ (1). */
  readonly ringingFrequency: number;
  readonly ringingDamping: number;
}

/** Share of the time near its levels from which on a waveform stays at them. */
const leastResting = 0.35;
/** Part of the peak-to-peak value that is near a level. */
const near = 0.07;

/**
 * Part of it whose places make the level: the foot and the shoulder of an edge lie
 * within `near` too, and would draw the level towards the other one.
 */
const nearest = 0.01;

/** Whether a waveform stays at a low and a high level, as that of a square drive. */
export function staysAtLevels({ values }: Period): boolean {
  const { low, high, reach } = modes(values);
  let low_ = 0, high_ = 0;
  for (const value of values) {
    if (Math.abs(value - low) < reach) low_++;
    if (Math.abs(value - high) < reach) high_++;
  }
  const n = values.length;
  return Math.min(low_, high_) > 0.12 * n &&
    low_ + high_ > 2 * leastResting * n;
}

/**
 * Reads a period: levels, transitions and what follows them.
 *
 * Source: IEEE Std 181-2011 (state levels by the modes of the histogram, else the
 * peaks; transition duration; overshoot), from memory.
 *
 * @param period The period.
 * @param part Part of the step at which transitions are timed: 0.1 for 10 % to 90 %.
 * @param rests Whether the waveform stays at levels.
 */
export function featuresOf(
  period: Period,
  part: number,
  rests: boolean,
): WaveformFeatures {
  const { values, duration } = period;
  const n = values.length;
  let highest = -Infinity, lowest = Infinity, squares = 0;
  for (let j = 0; j < n; j++) {
    const value = values[j]!;
    if (value > highest) highest = value;
    if (value < lowest) lowest = value;
    squares += values[j]! ** 2 / n;
  }
  const found = rests ? modes(values) : { low: lowest, high: highest };
  const { low, high } = found;
  const step = high - low;
  const lower = low + part * step;
  const upper = high - part * step;
  const perPlace = duration / n;
  const rise = transition(values, lower, upper);
  const negative = values.map((value) => -value);
  const fall = transition(negative, -upper, -lower);
  const middle = (low + high) / 2;
  const ringing = !rests
    ? null
    : ringingAfter(values, rise, fall, perPlace, step) ??
      ringingAfter(negative, fall, rise, perPlace, step);
  return {
    peakToPeak: highest - lowest,
    rms: Math.sqrt(squares),
    low,
    high,
    step,
    riseTime: rise === null ? NaN : rise.places * perPlace,
    fallTime: fall === null ? NaN : fall.places * perPlace,
    risingSlope: rise === null
      ? NaN
      : (upper - lower) / (rise.places * perPlace),
    fallingSlope: fall === null
      ? NaN
      : (lower - upper) / (fall.places * perPlace),
    dutyCycle: partAbove(values, middle),
    overshoot: rests ? (highest - high) / step : NaN,
    undershoot: rests ? (low - lowest) / step : NaN,
    ringingFrequency: ringing?.frequency ?? NaN,
    ringingDamping: ringing?.damping ?? NaN,
  };
}

/** A rise from the lower to the upper reference level. */
export interface Transition {
  /** Where it leaves the lower level, and reaches the upper, in places. */
  readonly from: number;
  readonly to: number;
  readonly places: number;
}

/**
 * The fastest rise: from the last place below the lower level to the first above
 * the upper, straight between places.
 */
function transition(
  values: Float64Array,
  lower: number,
  upper: number,
): Transition | null {
  const n = values.length;
  let best: Transition | null = null;
  let left = NaN;
  // Twice around, so that a transition across the end is whole.
  for (let k = 0; k < 2 * n; k++) {
    const a = values[k % n]!, b = values[(k + 1) % n]!;
    if (a <= lower && b > lower) left = k + (lower - a) / (b - a);
    if (b <= lower) left = NaN;
    if (left === left && a <= upper && b > upper) {
      const to = k + (upper - a) / (b - a);
      if (best === null || to - left < best.places) {
        best = { from: left, to, places: to - left };
      }
      left = NaN;
    }
  }
  return best;
}

/** Part of the period above a level, straight between places (1). */
function partAbove(values: Float64Array, level: number): number {
  const n = values.length;
  let sum = 0;
  for (let j = 0; j < n; j++) {
    const a = values[j]! - level, b = values[(j + 1) % n]! - level;
    sum += a > 0 && b > 0 ? 1 : a <= 0 && b <= 0 ? 0 : Math.max(a, b) /
      Math.abs(a - b);
  }
  return sum / n;
}

/**
 * The two levels where a waveform stays longest: of each half of its range the
 * narrow range that holds most places, in it the narrowest likewise, and the mean
 * of that.
 */
function modes(
  values: Float64Array,
): { low: number; high: number; reach: number } {
  const sorted = values.slice().sort();
  const n = sorted.length;
  const range = sorted[n - 1]! - sorted[0]!;
  const middle = (sorted[0]! + sorted[n - 1]!) / 2;
  const split = sorted.findIndex((value) => value > middle);
  const densest = (from: number, to: number, width: number) => {
    let best = from, most = 0, end = from;
    for (let k = from; k < to; k++) {
      while (end < to && sorted[end]! - sorted[k]! < width) end++;
      if (end - k > most) {
        most = end - k;
        best = k;
      }
    }
    return { from: best, to: best + most };
  };
  const level = (from: number, to: number) => {
    const wide = densest(from, to, near * range);
    const own = densest(wide.from, wide.to, nearest * range);
    let sum = 0;
    for (let k = own.from; k < own.to; k++) sum += sorted[k]!;
    return sum / Math.max(1, own.to - own.from);
  };
  return { low: level(0, split), high: level(split, n), reach: near * range };
}
