import { checkpoint } from "../progress/mod.ts";
import { type Capture, requireChannel } from "../capture/mod.ts";
import { requireCapture } from "../options/mod.ts";
import { copyOf } from "../memory/mod.ts";
import { select } from "../order/mod.ts";
import { detrend, lowPass, removeHum, welch } from "../signal/mod.ts";

const task = "look for fringes";

/** How even the fringes of a monitor signal run. */
export interface FringeEvidence {
  /** Fringes found: upward crossings of the mean, with a hysteresis. */
  readonly fringes: number;
  /** 1 / median time between two of them, in Hz; `NaN` with fewer than two. */
  readonly frequency: number;
  /**
   * Share of the time that passes in intervals longer than 2.5 times the median
   * (1): near 0 for an even speed, about a quarter for a target that turns round.
   */
  readonly slowShare: number;
  /** Standard deviation of the intervals over their mean (1). */
  readonly unevenness: number;
  /**
   * Share of the signal power below 0.4 of the median frequency of that power
   * (1): near 0 for a line that stands clear of zero, however broad.
   */
  readonly lowShare: number;
  /** Largest spectral density, smoothed, over the median density (1). */
  readonly prominence: number;
}

/**
 * Looks at the times between fringes: even times are a surface that runs evenly,
 * a quarter of slow ones is a target that turns round. (A sinusoidal motion
 * spends (2/π) arcsin(0.4) = 26 % of its time below 0.4 of its top speed.)
 *
 * @param capture A capture with a monitor signal of at least 64 finite samples.
 * @param mainsFrequency Mains frequency whose hum is taken out, in Hz.
 * @returns What was found.
 *
 * @example
 * ```ts
 * import { simulateCapture } from "fringebook";
 * import { gatherFringeEvidence } from "fringebook/explore";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-3 * time,
 *   samplingRate: 50_000,
 *   duration: 0.2,
 *   feedbackParameter: 0.2,
 * });
 * // 2 v / λ = 2 × 1 mm/s / 650 nm = 3077 Hz
 * expect(gatherFringeEvidence(capture).frequency / 3077).toBeCloseTo(1, 1);
 * ```
 */
export function gatherFringeEvidence(
  capture: Capture,
  mainsFrequency = 50,
): FringeEvidence {
  requireCapture(capture, task);
  const { samples } = requireChannel(capture, "monitor signal");
  const { samplingRate } = capture;
  let signal = detrend(samples, "linear");
  const periods = samples.length * mainsFrequency / samplingRate;
  if (periods > 20 && mainsFrequency < samplingRate / 8) {
    signal = removeHum(signal, mainsFrequency, { samplingRate });
  }
  const { prominence, edge, lowShare } = band(signal, samplingRate);
  if (edge > 0 && edge < 0.3 * samplingRate) {
    signal = lowPass(signal, 1.5 * edge, { samplingRate });
  }
  const times = crossings(signal);
  const intervals = new Float64Array(Math.max(0, times.length - 1));
  for (let i = 0; i < intervals.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, task);
    intervals[i] = (times[i + 1]! - times[i]!) / samplingRate;
  }
  const median = intervals.length === 0
    ? NaN
    : select(copyOf(intervals, task), intervals.length >> 1);
  let slow = 0;
  let total = 0;
  let squares = 0;
  for (let i = 0; i < intervals.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, task);
    const interval = intervals[i]!;
    total += interval;
    squares += interval ** 2;
    if (interval > 2.5 * median) slow += interval;
  }
  return {
    fringes: times.length,
    frequency: 1 / median,
    slowShare: total > 0 ? slow / total : 0,
    unevenness: total > 0
      ? Math.sqrt(Math.max(0, squares * intervals.length / total ** 2 - 1))
      : 0,
    lowShare,
    prominence,
  };
}

/** Prominence, and the frequency below which 90 % of the power above the floor lies. */
function band(
  signal: Float64Array,
  samplingRate: number,
): { prominence: number; edge: number; lowShare: number } {
  const { density, frequency } = welch(signal, { samplingRate });
  const smoothed = density.map((_, k) => {
    if ((k & 0xffff) === 0xffff) checkpoint(NaN, task);
    const near = density.subarray(
      Math.max(0, k - 2),
      Math.min(density.length, k + 3),
    );
    return near.reduce((sum, value) => sum + value, 0) / near.length;
  });
  const floor = select(copyOf(smoothed, task), smoothed.length >> 1);
  const powers = smoothed.map((value) => Math.max(0, value - 2 * floor));
  const total = powers.reduce((sum, value) => sum + value, 0);
  /** First bin that has the given share of the power at or below it. */
  const binOf = (share: number) => {
    let sum = 0;
    let bin = 0;
    while (bin < powers.length - 1 && sum < share * total) {
      sum += powers[bin++]!;
    }
    return bin;
  };
  const edge = binOf(0.9);
  const low = powers.subarray(0, Math.floor(0.4 * binOf(0.5)));
  const peak = smoothed.reduce((a, b) => Math.max(a, b), 0);
  return {
    prominence: peak > 0 ? peak / floor : 0,
    edge: frequency[edge]!,
    lowShare: total > 0
      ? low.reduce((sum, value) => sum + value, 0) / total
      : 0,
  };
}

/** Samples where the signal rises through its middle, with a hysteresis. */
function crossings(signal: Float64Array): number[] {
  const ordered = copyOf(signal, task);
  const quantile = (p: number) =>
    select(ordered, Math.floor(p * (ordered.length - 1)));
  const low = quantile(0.05);
  const high = quantile(0.95);
  const middle = (low + high) / 2;
  const hysteresis = 0.3 * (high - low) / 2;
  const found: number[] = [];
  let armed = false;
  for (let i = 0; i < signal.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, task);
    const value = signal[i]!;
    if (value < middle - hysteresis) armed = true;
    else if (armed && value > middle + hysteresis) {
      armed = false;
      found.push(i);
    }
  }
  return found;
}
