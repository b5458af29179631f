import {
  inDigits,
  type Quantity,
  quantity,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { SpeedTrack, TrackSpan } from "./track_speed.ts";
import { findReflections } from "./turning.ts";

/** Mean, highest and lowest speed of a smoothed track. */
export function headlines(
  frequency: Float64Array,
  uncertainty: Float64Array,
  one: Quantity,
  repetition: number,
): Pick<SpeedTrack, "meanSpeed" | "highestSpeed" | "lowestSpeed"> {
  let sum = 0, variance = 0, count = 0, high = -1, low = -1;
  for (let i = 0; i < frequency.length; i++) {
    const value = frequency[i]!;
    if (Number.isNaN(value)) continue;
    sum += value;
    if (!Number.isNaN(uncertainty[i]!)) variance += uncertainty[i]! ** 2;
    count++;
    if (high < 0 || value > frequency[high]!) high = i;
    if (low < 0 || value < frequency[low]!) low = i;
  }
  const speed = (value: number, u: number) =>
    quantity(
      value * one.value,
      Math.hypot(u * one.value, value * one.standardUncertainty),
      "m/s",
    );
  // The smoothed frames repeat each other: no gain over the mean of them.
  const mean = Math.sqrt(variance / count) *
    Math.min(1, Math.sqrt(4 * repetition / count));
  return {
    meanSpeed: speed(sum / count, mean),
    highestSpeed: speed(frequency[high]!, uncertainty[high]!),
    lowestSpeed: speed(frequency[low]!, uncertainty[low]!),
  };
}

/** Scatter of the single frames about the smoothed course. */
export function scatter(
  raw: Float64Array,
  smooth: Float64Array,
  reach: number,
): Float64Array {
  return raw.map((value, i) => {
    if (Number.isNaN(value)) return NaN;
    let sum = 0, count = 0;
    for (
      let j = Math.max(0, i - reach);
      j <= Math.min(raw.length - 1, i + reach);
      j++
    ) {
      const d = raw[j]! - smooth[j]!;
      if (Number.isNaN(d)) continue;
      sum += d * d;
      count++;
    }
    // The parabola takes three of the degrees of freedom.
    return count > 3 ? Math.sqrt(sum / (count - 3)) : NaN;
  });
}

/** How often the line is lost and found again. */
export function countDropouts(raw: Float64Array): number {
  let dropouts = 0;
  let started = false;
  let gap = false;
  for (const value of raw) {
    if (Number.isNaN(value)) gap = started;
    else {
      if (gap) dropouts++;
      gap = false;
      started = true;
    }
  }
  return dropouts;
}

/** What the track gives reason to doubt. */
export function trackWarnings(
  raw: Float64Array,
  time: Float64Array,
  binWidth: number,
  samplingRate: number,
  spans: readonly TrackSpan[],
): Warning[] {
  const warnings: Warning[] = [];
  const nyquist = samplingRate / 2;
  const folds = findReflections(
    time,
    raw.map((value) => nyquist - value),
    binWidth,
  );
  const fold = folds[0];
  if (fold !== undefined) {
    warnings.push(warn(
      "aliased",
      `The line runs into half the sampling rate (${nyquist} Hz) at ${
        inDigits(fold.time, 4)
      } s and is folded back: sample faster`,
    ));
  }
  const dropouts = countDropouts(raw);
  if (dropouts > 0) {
    warnings.push(warn(
      "dropouts",
      `The line was lost and found again ${dropouts} times; nothing is filled in there`,
      "note",
    ));
  }
  if (spans.some(({ direction }) => direction === "not determined")) {
    warnings.push(warn(
      "direction",
      "The direction is not determined: the saw-tooth form is too weak, so the speed has no sign",
      "note",
    ));
  }
  return warnings;
}
