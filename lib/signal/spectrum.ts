import { type Option, readOptions, requireNumbers } from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  type Warning,
} from "../result/mod.ts";
import type { Detrending } from "./detrend.ts";
import { evenlySpaced, type NumberSequence, requireFinite } from "./samples.ts";
import { eachSegmentPower } from "./segment_power.ts";
import { cutSpec, samplingSpec, segmentSpec } from "./signal_options.ts";
import { windowFigures, type WindowName, windowValues } from "./window.ts";

/** One-sided power spectral density of a record. */
export interface Spectrum extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "signal.spectrum";
  /** Frequencies of the bins 0 … ⌊L/2⌋, in Hz. */
  readonly frequency: Float64Array;
  /**
   * One-sided density, in (unit of the samples)²/Hz: its integral over
   * frequency is the variance of the record.
   */
  readonly density: Float64Array;
  /** Distance of the bins, in Hz. */
  readonly binWidth: number;
  /** Equivalent noise bandwidth of a bin, in Hz. */
  readonly noiseBandwidth: number;
  /** Samples per second of the record, in Hz. */
  readonly samplingRate: number;
  /** Samples per segment L. */
  readonly segmentLength: number;
  /** Segments averaged. */
  readonly segmentCount: number;
  /**
   * How many independent spectra the average is worth (1): less than
   * `segmentCount` when segments overlap (Welch 1967).
   */
  readonly effectiveAverages: number;
  /** Window used. */
  readonly window: WindowName;
  /** Samples at the end that fill no segment. */
  readonly diagnostics: { readonly unusedSamples: number };
}

/** Options of {@linkcode powerSpectrum} and {@linkcode welch}. */
export interface SpectrumOptions {
  /** Samples per second, in Hz. */
  samplingRate: number | string;
  /**
   * Window.
   *
   * @default {"Hann"}
   */
  window?: WindowName;
  /**
   * What is removed from each segment before it is windowed.
   *
   * @default {"constant"}
   */
  detrending?: Detrending;
}

/** Options of {@linkcode welch}. */
export interface WelchOptions extends SpectrumOptions {
  /**
   * Samples per segment, at least 2; a power of two is fastest.
   *
   * @default {the power of two not above 1/8 of the record}
   */
  segmentLength?: number;
  /**
   * Fraction of a segment that the next one shares, 0 to below 1.
   *
   * @default {0.5}
   */
  overlap?: number;
}

/** The options of {@linkcode welch}. */
export const welchSpec = {
  ...samplingSpec,
  ...segmentSpec,
  ...cutSpec,
} satisfies Record<keyof WelchOptions, Option>;

/**
 * Averaged spectrum of overlapping windowed segments (Welch 1967, IEEE Trans.
 * Audio Electroacoust. 15, 70), scaled to a one-sided density:
 * S[k] = 2 |X[k]|² / (fs Σ w²), without the 2 at zero and at half the sampling
 * rate.
 *
 * @param samples Finite numbers, in any unit.
 * @param options Sampling rate, segments, window, detrending.
 * @returns Frequencies in Hz and density in unit²/Hz.
 * @throws {RangeError} If a sample is not finite, the segment is longer than the
 * record, or an option is out of range.
 *
 * @example The integral is the variance
 * ```ts
 * import { createRandom, welch } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const random = createRandom(1);
 * const noise = Float64Array.from({ length: 16384 }, () => 3 * random.normal());
 * const { density, binWidth } = welch(noise, { samplingRate: 1000 });
 * const variance = density.reduce((sum, s) => sum + s * binWidth, 0);
 * expect(Math.abs(variance / 9 - 1)).toBeLessThan(0.05);
 * ```
 */
export function welch(
  samples: NumberSequence,
  options: WelchOptions,
): Spectrum & Shown {
  const task = "estimate a spectrum";
  requireFinite(samples, task);
  const {
    samplingRate,
    window,
    detrending,
    segmentLength = defaultSegment(samples.length),
    overlap,
  } = readOptions(welchSpec, options, task);
  const hop = requireSegments(samples.length, segmentLength, overlap, task);
  const values = windowValues(window, segmentLength);
  const segmentCount = 1 + Math.floor((samples.length - segmentLength) / hop);
  const density = new Float64Array(Math.floor(segmentLength / 2) + 1);
  eachSegmentPower(samples, {
    length: segmentLength,
    hop,
    count: segmentCount,
    window: values,
    detrending,
  }, (_, power) => {
    for (let k = 0; k < density.length; k++) {
      if ((k & stride) === stride) checkpoint(NaN, "spectrum");
      density[k]! += power[k]!;
    }
  });
  return spectrumOfSum(density, {
    samplingRate,
    window,
    detrending,
    segmentLength,
    overlap,
    hop,
    values,
    segmentCount,
    sampleCount: samples.length,
    method: "welch",
  });
}

/** What a sum of squared moduli came from. */
export interface SummedSegments
  extends Omit<Required<WelchOptions>, "samplingRate"> {
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples from the start of one segment to the next. */
  readonly hop: number;
  /** Window values. */
  readonly values: Float64Array;
  readonly segmentCount: number;
  readonly sampleCount: number;
  /** Name of the computing function. */
  readonly method: string;
}

/** The spectrum of summed squared moduli, which are scaled in place. */
export function spectrumOfSum(
  density: Float64Array,
  summed: SummedSegments,
): Spectrum & Shown {
  const { samplingRate, window, detrending, segmentLength, overlap } = summed;
  const { hop, values, segmentCount, sampleCount, method } = summed;
  const figures = windowFigures(values);
  const scale = 1 /
    (samplingRate * segmentLength * figures.noiseGain * segmentCount);
  scaleOneSided(density, 0, density.length, scale, segmentLength);
  const binWidth = samplingRate / segmentLength;
  return createResult<Spectrum>({
    kind: "signal.spectrum",
    frequency: evenlySpaced(density.length, binWidth),
    density,
    binWidth,
    noiseBandwidth: figures.equivalentNoiseBandwidth * binWidth,
    samplingRate,
    segmentLength,
    segmentCount,
    effectiveAverages: effectiveAverages(values, hop, segmentCount),
    window,
    warnings: [] as Warning[],
    provenance: provenance({
      method,
      options: { samplingRate, window, detrending, segmentLength, overlap },
      sources: ["Welch 1967, IEEE Trans. Audio Electroacoust. 15, 70"],
    }),
    diagnostics: {
      unusedSamples: sampleCount - segmentLength - (segmentCount - 1) * hop,
    },
  });
}

/**
 * Spectrum of the whole record in one piece (modified periodogram), scaled as
 * {@linkcode welch}: finest resolution, no averaging.
 *
 * @param samples Finite numbers, in any unit.
 * @param options Sampling rate, window, detrending.
 * @returns Frequencies in Hz and density in unit²/Hz.
 * @throws {RangeError} If a sample is not finite or an option is out of range.
 *
 * @example
 * ```ts
 * import { powerSpectrum } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const tone = Float64Array.from(
 *   { length: 1000 },
 *   (_, n) => Math.sin(2 * Math.PI * 100 * n / 1000),
 * );
 * const { frequency, density } = powerSpectrum(tone, { samplingRate: 1000 });
 * expect(frequency[density.indexOf(Math.max(...density))]).toBe(100);
 * ```
 */
export function powerSpectrum(
  samples: NumberSequence,
  options: SpectrumOptions,
): Spectrum & Shown {
  const task = "estimate a spectrum";
  requireNumbers(samples, "samples", task);
  const read = readOptions({ ...samplingSpec, ...segmentSpec }, options, task);
  return welch(samples, {
    ...read,
    segmentLength: samples.length,
    overlap: 0,
  });
}

/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

function defaultSegment(count: number): number {
  return Math.max(2, 2 ** Math.floor(Math.log2(Math.max(16, count) / 8)));
}

/** Checks the cut of a record into segments and gives the hop in samples. */
export function requireSegments(
  count: number,
  segmentLength: number,
  overlap: number,
  task: string,
): number {
  if (
    !Number.isInteger(segmentLength) || segmentLength < 2 ||
    segmentLength > count
  ) {
    throw new RangeError(
      `Cannot ${task} as 'segmentLength' must be an integer from 2 to the ${count} samples: current value is ${segmentLength}`,
    );
  }
  if (!(overlap >= 0 && overlap < 1)) {
    throw new RangeError(
      `Cannot ${task} as 'overlap' must be at least 0 and below 1: current value is ${overlap}`,
    );
  }
  return Math.max(1, Math.round(segmentLength * (1 - overlap)));
}

/** Multiplies squared moduli so that they become a one-sided density. */
export function scaleOneSided(
  values: Float64Array,
  from: number,
  bins: number,
  scale: number,
  segmentLength: number,
): void {
  for (let k = 0; k < bins; k++) {
    if ((k & stride) === stride) checkpoint(NaN, "spectrum");
    values[from + k]! *= 2 * scale;
  }
  values[from]! /= 2;
  if (segmentLength % 2 === 0) values[from + bins - 1]! /= 2;
}

/** Welch 1967, section "variance": correlation of overlapped segments. */
function effectiveAverages(
  window: Float64Array,
  hop: number,
  count: number,
): number {
  const length = window.length;
  let squares = 0;
  for (let i = 0; i < length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "spectrum");
    squares += window[i]! * window[i]!;
  }
  let sum = 0;
  for (let j = 1; j < count && j * hop < length; j++) {
    checkpoint(NaN, "spectrum");
    let product = 0;
    for (let i = j * hop; i < length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, "spectrum");
      product += window[i]! * window[i - j * hop]!;
    }
    sum += (1 - j / count) * (product / squares) ** 2;
  }
  return count / (1 + 2 * sum);
}
