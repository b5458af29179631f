import type { Capture } from "../capture/mod.ts";
import { requireChannel } from "../capture/mod.ts";
import { copyOf } from "../memory/mod.ts";
import { select, sortValues } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { detrend, powerSpectrum, removeHum } from "../signal/mod.ts";
import { findSwings } from "./find_swings.ts";

const work = "look at the level";

/** A monitor signal that carries no fringes, only a level. */
export interface LevelEvidence {
  /** Whether nothing but noise, hum and slow changes rides on the level. */
  readonly isLevel: boolean;
  /** Range of the signal over its middle, both without sign (1). */
  readonly relativeRange: number;
  /** Times the level turns back; slow fringes do so again and again (1). */
  readonly swings: number;
  /** Range of the level over its noise in the parts that were compared (1). */
  readonly change: number;
  /** Parts of the record in which more happens than noise, as a share (1). */
  readonly busyShare: number;
  /** How far the spectrum of the rest rises above what lies below it (1). */
  readonly rise: number;
  /** Kurtosis of the rest (1): 3 of noise, 1.5 of fringes. */
  readonly kurtosis: number;
}

/** Least length of a record of a level, in s; fringes take less. */
const leastDuration = 2;
const fewestSamples = 512;
/** Most samples that are looked at: the first ones of a longer record. */
const mostSamples = 1 << 20;
/** Range over the middle: what a target adds to the light is far less. */
const mostRange = 0.5;
/** Turns of a level: a card that comes three times makes six. */
const mostSwings = 8;
/** Parts of the record, half over each other, in which its noise is compared. */
const mostParts = 32;
/** Length of a part in periods of the mains, at least: its hum stands apart. */
const leastPeriods = 8;
/** Means per part by which the level is followed. */
const meansPerPart = 16;
/** Noise of a part over the usual one, where more happens in it. */
const busy = 1.5;
/** Share of the parts in which the level may jump. */
const mostBusy = 0.3;
/**
 * Rise of an average over 20 spectra and more, smoothed over three frequencies,
 * that noise without fringes does not reach: each scatters by a fifth at most.
 */
const mostRise = 4;
/** Kurtosis of noise, at least: fringes of 5 dB have 2.1. */
const leastKurtosis = 2.5;
/** Values of a signal whose noise is a step or two of the converter, at most. */
const fewValues = 6;
/** Half the width of a gap in the spectrum where hum was taken out, in Hz. */
const gap = 3;
/** Multiples of the mains frequency that are taken out. */
const harmonics = 5;
/** Cycles per part from which on a spectrum tells fringes from a slow change. */
const firstCycle = 3;

/**
 * Looks whether a monitor signal is a level without fringes: it sits well off zero,
 * changes slowly and seldom, and what is left without hum is noise whose spectrum
 * nowhere rises with the frequency.
 *
 * @param capture A capture with a monitor signal of finite samples.
 * @param mainsFrequency Mains frequency whose hum is left out, in Hz.
 * @returns What was found; `null` where it can be none: too short, or about zero.
 */
export function gatherLevelEvidence(
  capture: Capture,
  mainsFrequency: number,
): LevelEvidence | null {
  const { samplingRate } = capture;
  const { samples } = requireChannel(capture, "monitor signal");
  const count = Math.min(samples.length, mostSamples);
  if (count < fewestSamples || count < leastDuration * samplingRate) {
    return null;
  }
  const signal = copyOf(samples.subarray(0, count), work);
  const relativeRange = relativeRangeOf(signal);
  if (!(relativeRange > 0 && relativeRange < mostRange)) return null;
  const isHumSeen = mainsFrequency < samplingRate / 2.5;
  const clean = isHumSeen
    ? removeHum(signal, mainsFrequency, { samplingRate, harmonics })
    : signal;
  const length = Math.ceil(Math.max(
    count / mostParts,
    leastPeriods * samplingRate / mainsFrequency,
  ));
  const rests = partsOf(clean, length, length >> 1)
    .map((part) => detrend(part, "linear"));
  const noises = rests.map(deviationOf);
  const usual = select(Float64Array.from(noises), noises.length >> 1);
  const quiet = rests.filter((_, k) => noises[k]! <= busy * usual);
  const busyShare = 1 - quiet.length / rests.length;
  const rise = riseOf(quiet, samplingRate, isHumSeen ? mainsFrequency : NaN);
  const fine = Math.max(1, Math.floor(length / meansPerPart));
  const { swings, change } = courseOf(partsOf(clean, fine, fine), usual);
  const kurtosis = kurtosisOf(quiet);
  return {
    isLevel: swings <= mostSwings && busyShare <= mostBusy && rise < mostRise &&
      // Noise of a step or two of the converter has no form of its own.
      (kurtosis > leastKurtosis || hasFewValues(signal)),
    relativeRange,
    swings,
    change,
    busyShare,
    rise,
    kurtosis,
  };
}

/** Range from the 1 % to the 99 % point over the middle, of a part of the samples. */
function relativeRangeOf(signal: Float64Array): number {
  const stride = Math.max(1, signal.length >> 14);
  const few = new Float64Array(Math.floor(signal.length / stride));
  for (let k = 0; k < few.length; k++) few[k] = signal[k * stride]!;
  const sorted = sortValues(few);
  const at = (part: number) => sorted[Math.floor(part * (sorted.length - 1))]!;
  return (at(0.99) - at(0.01)) / Math.abs(at(0.5));
}

function partsOf(
  signal: Float64Array,
  length: number,
  hop: number,
): Float64Array[] {
  const parts: Float64Array[] = [];
  for (let from = 0; from + length <= signal.length; from += hop) {
    parts.push(signal.subarray(from, from + length));
  }
  return parts;
}

function deviationOf(part: Float64Array): number {
  let squares = 0;
  for (let i = 0; i < part.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    squares += part[i]! ** 2;
  }
  return Math.sqrt(squares / part.length);
}

/** Fourth moment over the squared second one, about each part's own line. */
function kurtosisOf(parts: readonly Float64Array[]): number {
  let [squares, fourths] = [0, 0];
  for (const part of parts) {
    const variance = deviationOf(part) ** 2;
    for (let i = 0; i < part.length; i++) {
      if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
      const square = part[i]! ** 2;
      fourths += square * square;
    }
    squares += variance ** 2 * part.length;
  }
  return fourths / squares;
}

function hasFewValues(signal: Float64Array): boolean {
  const values = new Set<number>();
  for (let i = 0; i < signal.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    if (values.add(signal[i]!).size > fewValues) return false;
  }
  return true;
}

/**
 * The largest power density over the smallest at a lower frequency. Fringes stand
 * somewhere above zero; the noise of a level only falls from there. Where hum was
 * taken out, the spectrum has gaps, which are no smallest value.
 */
function riseOf(
  quiet: readonly Float64Array[],
  samplingRate: number,
  hum: number,
): number {
  let sum = new Float64Array(0);
  for (const part of quiet) {
    const { density } = powerSpectrum(part, { samplingRate });
    if (sum.length === 0) sum = new Float64Array(density.length);
    for (let k = 0; k < sum.length; k++) {
      if ((k & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
      sum[k]! += density[k]!;
    }
  }
  const bin = samplingRate / quiet[0]!.length;
  let [least, rise] = [Infinity, 0];
  for (let k = firstCycle + 1; k + 1 < sum.length - 1; k++) {
    if ((k & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    const mean = sum[k - 1]! + sum[k]! + sum[k + 1]!;
    const multiple = Math.round(k * bin / hum);
    const isGap = multiple > 0 && multiple <= harmonics &&
      Math.abs(k * bin - multiple * hum) < gap + 2 * bin;
    if (!isGap && mean < least) least = mean;
    if (mean / least > rise) rise = mean / least;
  }
  return rise;
}

/** How often the level turns back, and its range over the noise of its means. */
function courseOf(
  parts: readonly Float64Array[],
  noise: number,
): { swings: number; change: number } {
  const means = Float64Array.from(parts, (part) => {
    let sum = 0;
    for (let i = 0; i < part.length; i++) sum += part[i]!;
    return sum / part.length;
  });
  const sorted = sortValues(copyOf(means, work));
  const range = sorted.at(-1)! - sorted[0]!;
  const noiseOfMean = noise / Math.sqrt(parts[0]!.length);
  const hysteresis = Math.max(6 * noiseOfMean, 0.15 * range);
  return {
    swings: findSwings(means, hysteresis).length,
    change: range / noiseOfMean,
  };
}
