import { select } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  nextPowerOfTwo,
  type Spectrogram,
  spectrogram,
} from "../signal/mod.ts";
import { backgroundLevel } from "./background_level.ts";

/** A spectrogram with the background that its lines stand on. */
export interface TrackFrames {
  readonly spectrogram: Spectrogram;
  /** Background density of each bin, in unit²/Hz. */
  readonly level: Float64Array;
  /** Median over the frames of the highest bin over the background (1). */
  readonly concentration: number;
}

const mostStates = 2.5e7;
/**
 * What twice as long a segment must gain (1): 2 where the line is steady in it, 1
 * where it is swept over two bins. With 1.25 the swing of an eccentric shaft was
 * cut to a third.
 */
const leastGain = 1.5;

/**
 * Makes the spectrogram in which a line is followed. Where no segment length is
 * given, the one that gathers most of the line in single bins is taken: long
 * segments for a steady line, short ones for a fast sweep.
 */
export function trackFrames(
  samples: Float64Array,
  samplingRate: number,
  segmentLength: number | null,
  low: number,
): TrackFrames {
  if (segmentLength !== null) {
    return frames(samples, samplingRate, segmentLength, low, 0.75);
  }
  const longest = Math.min(1 << 14, nextPowerOfTwo(samples.length + 1) / 16);
  let best: TrackFrames | null = null;
  for (let length = 128; length <= Math.max(128, longest); length *= 2) {
    const next = frames(samples, samplingRate, length, low, 0);
    if (
      best === null || next.concentration > leastGain * best.concentration
    ) {
      best = next;
    }
  }
  const { segmentLength: chosen } = best!.spectrogram;
  return frames(samples, samplingRate, chosen, low, 0.75);
}

function frames(
  samples: Float64Array,
  samplingRate: number,
  segmentLength: number,
  low: number,
  wanted: number,
): TrackFrames {
  // The steps become wider where the table would not fit.
  const bins = segmentLength / 2 + 1;
  let overlap = wanted;
  const count = (part: number) =>
    samples.length / (segmentLength * (1 - part)) * bins;
  if (count(overlap) > mostStates) overlap = Math.min(overlap, 0.5);
  if (count(overlap) > mostStates) overlap = 0;
  const made = spectrogram(samples, { samplingRate, segmentLength, overlap });
  const level = timeLevel(made);
  const first = Math.max(2, Math.ceil(low / made.binWidth));
  const peaks: number[] = [];
  for (let frame = 0; frame < made.time.length; frame++) {
    if (frame % 64 === 0) checkpoint(NaN, "track the speed");
    let top = 0;
    for (let k = first; k < bins - 1; k++) {
      const ratio = made.density[frame * bins + k]! / level[k]!;
      if (ratio > top) top = ratio;
    }
    peaks.push(top);
  }
  return {
    spectrogram: made,
    level,
    concentration: peaks.length === 0
      ? 0
      : select(Float64Array.from(peaks), peaks.length >> 1),
  };
}

/** Median over time of each bin, then the running median over frequency. */
function timeLevel({ density, time, frequency }: Spectrogram): Float64Array {
  const bins = frequency.length;
  const step = Math.max(1, Math.floor(time.length / 64));
  const taken = Math.floor((time.length - 1) / step) + 1;
  const column = new Float64Array(taken);
  const middle = new Float64Array(bins);
  for (let k = 0; k < bins; k++) {
    if (k % 1024 === 0) checkpoint(NaN, "track the speed");
    for (let j = 0; j < taken; j++) column[j] = density[j * step * bins + k]!;
    column.sort();
    // The median of exponential values is ln 2 of their mean.
    middle[k] = column[taken >> 1]! / Math.LN2;
  }
  const level = backgroundLevel(middle, Math.max(1, taken / 2));
  let largest = 0;
  for (const value of level) if (value > largest) largest = value;
  // A capture without any noise still needs a level to divide by.
  return level.map((value) => Math.max(value, 1e-12 * largest, 1e-300));
}
