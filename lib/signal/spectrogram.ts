import { largePages } from "../memory/mod.ts";
import { readOptions } from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { evenlySpaced, type NumberSequence, requireFinite } from "./samples.ts";
import { eachSegmentPower } from "./segment_power.ts";
import {
  requireSegments,
  scaleOneSided,
  type WelchOptions,
  welchSpec,
} from "./spectrum.ts";
import { windowFigures, type WindowName, windowValues } from "./window.ts";

/** Spectra of successive segments of a record. */
export interface Spectrogram extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "signal.spectrogram";
  /** Middle of each segment, in s from the first sample. */
  readonly time: Float64Array;
  /** Frequencies of the bins 0 … ⌊L/2⌋, in Hz. */
  readonly frequency: Float64Array;
  /**
   * One-sided densities in unit²/Hz, one segment after the other:
   * `density[segment * frequency.length + bin]`.
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
  /** Samples from one segment to the next. */
  readonly hop: number;
  /** Window used. */
  readonly window: WindowName;
  /** Samples at the end that fill no segment. */
  readonly diagnostics: { readonly unusedSamples: number };
}

/**
 * Spectra of successive overlapping windowed segments, each scaled to a
 * one-sided density as in {@linkcode welch}.
 *
 * @param samples Finite numbers, in any unit.
 * @param options Sampling rate, segments, window, detrending.
 * @returns Times in s, frequencies in Hz, densities in unit²/Hz.
 * @throws {RangeError} If a sample is not finite, the segment is longer than the
 * record, or an option is out of range.
 *
 * @example
 * ```ts
 * import { spectrogram } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const { time, frequency, density } = spectrogram(new Float64Array(4096), {
 *   samplingRate: 1000,
 *   segmentLength: 256,
 * });
 * expect(density.length).toBe(time.length * frequency.length);
 * ```
 */
export function spectrogram(
  samples: NumberSequence,
  options: WelchOptions,
): Spectrogram & Shown {
  const task = "make a spectrogram";
  requireFinite(samples, task);
  const {
    samplingRate,
    window,
    detrending,
    segmentLength = Math.min(1024, samples.length),
    overlap,
  } = readOptions(welchSpec, options, task);
  const hop = requireSegments(samples.length, segmentLength, overlap, task);
  const values = windowValues(window, segmentLength);
  const count = 1 + Math.floor((samples.length - segmentLength) / hop);
  const bins = Math.floor(segmentLength / 2) + 1;
  const figures = windowFigures(values);
  const density = largePages(new Float64Array(count * bins));
  const scale = 1 / (samplingRate * segmentLength * figures.noiseGain);
  eachSegmentPower(samples, {
    length: segmentLength,
    hop,
    count,
    window: values,
    detrending,
  }, (index, power) => {
    density.set(power, index * bins);
    scaleOneSided(density, index * bins, bins, scale, segmentLength);
  });
  return spectrogramResult({
    samplingRate,
    window,
    segmentLength,
    hop,
    time: Float64Array.from(
      { length: count },
      (_, index) => (index * hop + segmentLength / 2) / samplingRate,
    ),
    density,
    noiseBins: figures.equivalentNoiseBandwidth,
    warnings: [],
    method: "spectrogram",
    options: { samplingRate, window, detrending, segmentLength, overlap },
    unusedSamples: samples.length - segmentLength - (count - 1) * hop,
  });
}

/** What a spectrogram is made of. */
export interface SpectrogramParts extends
  Pick<
    Spectrogram,
    | "samplingRate"
    | "window"
    | "segmentLength"
    | "hop"
    | "time"
    | "density"
    | "warnings"
  > {
  /** Equivalent noise bandwidth of the window, in bins (1). */
  readonly noiseBins: number;
  /** Function that computed it. */
  readonly method: string;
  /** Its options, for the provenance. */
  readonly options: Readonly<Record<string, unknown>>;
  /** Samples at the end that fill no column. */
  readonly unusedSamples: number;
}

/** The result of a spectrogram, computed whole or block by block. */
export function spectrogramResult(
  { noiseBins, method, options, unusedSamples, ...parts }: SpectrogramParts,
): Spectrogram & Shown {
  const { samplingRate, segmentLength } = parts;
  const binWidth = samplingRate / segmentLength;
  return createResult<Spectrogram>({
    kind: "signal.spectrogram",
    time: parts.time,
    frequency: evenlySpaced(Math.floor(segmentLength / 2) + 1, binWidth),
    density: parts.density,
    binWidth,
    noiseBandwidth: noiseBins * binWidth,
    samplingRate,
    segmentLength,
    hop: parts.hop,
    window: parts.window,
    warnings: parts.warnings,
    provenance: provenance({
      method,
      options,
      sources: ["Welch 1967, IEEE Trans. Audio Electroacoust. 15, 70"],
    }),
    diagnostics: { unusedSamples },
  });
}
