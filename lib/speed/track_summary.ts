import {
  inDigits,
  type Quantity,
  quantity,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { SpeedTrack, TrackSpan } from "./track_speed.ts";
import { findReflections } from "./turning.ts";

/** What the headlines of a track are made of. */
export interface TrackTotal {
  /** Frames in which the line is seen. */
  readonly seen: number;
  /** Sum of the smoothed frequency, in Hz, and of its squared uncertainty. */
  readonly sum: number;
  readonly squares: number;
  /** Highest and lowest smoothed frequency with their uncertainty, in Hz. */
  readonly high: TrackExtreme;
  readonly low: TrackExtreme;
}

/** A smoothed frequency in Hz; its uncertainty is `null` if not known. */
export interface TrackExtreme {
  readonly value: number;
  readonly standardUncertainty: number | null;
}

/** Sums and extremes of a smoothed track. */
export function totalOf(
  frequency: Float64Array,
  uncertainty: Float64Array,
): TrackTotal {
  let sum = 0, squares = 0, seen = 0, high = -1, low = -1;
  for (let i = 0; i < frequency.length; i++) {
    const value = frequency[i]!;
    if (Number.isNaN(value)) continue;
    sum += value;
    if (!Number.isNaN(uncertainty[i]!)) squares += uncertainty[i]! ** 2;
    seen++;
    if (high < 0 || value > frequency[high]!) high = i;
    if (low < 0 || value < frequency[low]!) low = i;
  }
  const extreme = (at: number) => ({
    value: frequency[at]!,
    standardUncertainty: uncertainty[at]!,
  });
  return { seen, sum, squares, high: extreme(high), low: extreme(low) };
}

/** Mean, highest and lowest speed. */
export function headlines(
  { seen, sum, squares, high, low }: TrackTotal,
  one: Quantity,
  repetition: number,
  { comesToRest }: { comesToRest: boolean },
): Pick<SpeedTrack, "meanSpeed" | "highestSpeed" | "lowestSpeed"> {
  const speed = (value: number, u: number) =>
    quantity(
      value * one.value,
      Math.hypot(u * one.value, value * one.standardUncertainty),
      "m/s",
    );
  const extreme = ({ value, standardUncertainty }: TrackExtreme) =>
    speed(value, standardUncertainty ?? NaN);
  // The smoothed frames repeat each other: no gain over the mean of them.
  const mean = Math.sqrt(squares / seen) *
    Math.min(1, Math.sqrt(4 * repetition / seen));
  return {
    meanSpeed: speed(sum / seen, mean),
    highestSpeed: extreme(high),
    lowestSpeed: comesToRest ? quantity(0, 0, "m/s") : extreme(low),
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

/** When the line is first folded at half the sampling rate, in s; or `null`. */
export function firstFold(
  raw: Float64Array,
  time: Float64Array,
  binWidth: number,
  samplingRate: number,
): number | null {
  const height = raw.map((value) => samplingRate / 2 - value);
  return findReflections(time, height, binWidth)[0]?.time ?? null;
}

/** What the track gives reason to doubt. */
export function trackWarnings(
  { fold, dropouts, samplingRate, spans, findings }: {
    /** See {@linkcode firstFold}. */
    fold: number | null;
    dropouts: number;
    samplingRate: number;
    spans: readonly TrackSpan[];
    findings: Pick<SpeedTrack, "standstills" | "secondSpeed">;
  },
): Warning[] {
  const warnings: Warning[] = [];
  if (fold !== null) {
    warnings.push(warn(
      "aliased",
      `The line runs into half the sampling rate (${samplingRate / 2} Hz) at ${
        inDigits(fold, 4)
      } s and is folded back: sample faster`,
    ));
  }
  const { standstills, secondSpeed } = findings;
  if (secondSpeed !== null) {
    warnings.push(warn(
      "two-speeds",
      `A second line runs beside the one that was followed, at ${
        inDigits(secondSpeed.value, 4)
      } m/s in the mean: give 'searchBand' to choose, or block one of the paths`,
    ));
  }
  const lost = Math.max(0, dropouts - standstills.length);
  if (lost > 0) {
    warnings.push(warn(
      "dropouts",
      `The line was lost and found again ${lost} times; nothing is filled in there`,
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
