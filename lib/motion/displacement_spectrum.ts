import { checkpoint } from "../progress/mod.ts";
import type { Capture } from "../capture/mod.ts";
import {
  choiceOption,
  type Option,
  optional,
  optionOf,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { welch, type WindowName, windowNames } from "../signal/mod.ts";
import { type OfCapture, readDisplacement } from "./displacement_argument.ts";
import type { Displacement } from "./measure_displacement.ts";

/** Options of {@linkcode measureDisplacementSpectrum}. */
export interface MeasureDisplacementSpectrumOptions extends OfCapture {
  /**
   * Samples per segment; a power of two is fastest.
   *
   * @default {the power of two not above 1/8 of the longest stretch}
   */
  segmentLength?: number;
  /**
   * Window.
   *
   * @default {"Hann"}
   */
  window?: WindowName;
}

export const spectrumSpec = {
  segmentLength: optional(
    optionOf.whole("Samples per segment; a power of two is fastest.", {
      least: 2,
    }),
    undefined,
    "the power of two not above 1/8 of the longest stretch",
  ),
  window: optional(choiceOption("Window.", windowNames), "Hann"),
} satisfies Record<
  Exclude<keyof MeasureDisplacementSpectrumOptions, keyof OfCapture>,
  Option
>;

/** Amplitude spectral density of the displacement. */
export interface DisplacementSpectrum extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.spectrum";
  /** Frequencies, in Hz. */
  readonly frequency: Float64Array;
  /** One-sided amplitude density, in m/√Hz. */
  readonly density: Float64Array;
  /** Density of the noise that the fringes leave, in m/√Hz. */
  readonly noiseDensity: number;
  /** Root mean square over all frequencies above 0, in m. */
  readonly rms: Quantity;
  /** Equivalent noise bandwidth of a bin, in Hz. */
  readonly noiseBandwidth: number;
  /** Band up to which the displacement follows the target, in Hz. */
  readonly bandwidth: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** First sample of the stretch used. */
    readonly first: number;
    /** Last sample of the stretch used. */
    readonly last: number;
    /** Segments averaged (1). */
    readonly segments: number;
  };
}

/**
 * Spectrum of a displacement in m/√Hz: the square root of Welch's one-sided
 * density, so that the integral of its square is the mean square. A sine of
 * amplitude A shows as A/√2 over the square root of the window's noise
 * bandwidth.
 *
 * @param displacement Result of `measureDisplacement`.
 * @param options Segment length and window.
 * @returns Density over frequency, and the noise of the fringes.
 *
 * Source: Welch 1967; Heinzel, Rüdiger, Schilling 2002 (scaling).
 *
 * @example
 * ```ts
 * import {
 *   measureDisplacement,
 *   measureDisplacementSpectrum,
 *   simulateCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * Math.sin(2 * Math.PI * 256 * time),
 *   samplingRate: 65536,
 *   duration: 0.25,
 *   drive: null,
 * });
 * const displacement = measureDisplacement(capture, { wavelength: 650e-9 });
 * const { rms } = measureDisplacementSpectrum(displacement);
 * expect(Math.abs(rms.value / (1e-6 / Math.SQRT2) - 1)).toBeLessThan(0.02);
 * ```
 */
export function measureDisplacementSpectrum(
  measured: Displacement | Capture,
  options: MeasureDisplacementSpectrumOptions = {},
): DisplacementSpectrum & Shown {
  const { displacement, options: { window, ...own } } = readDisplacement(
    measured,
    options,
    spectrumSpec,
    "make the spectrum of a displacement",
  );
  const { samplingRate, diagnostics } = displacement;
  const { first, last } = longestWhole(displacement.displacement);
  const samples = displacement.displacement.subarray(first, last + 1);
  const { segmentLength = 2 ** Math.floor(Math.log2(samples.length / 8)) } =
    own;
  const spectrum = welch(samples, { samplingRate, window, segmentLength });
  let square = 0;
  for (let k = 1; k < spectrum.density.length; k++) {
    square += spectrum.density[k]! * spectrum.binWidth;
  }
  const rms = Math.sqrt(square);
  const noise = displacement.rmsUncertainty /
    Math.sqrt(Math.max(diagnostics.bandwidth, 1e-300));
  return createResult({
    kind: "motion.spectrum" as const,
    frequency: spectrum.frequency,
    density: spectrum.density.map(Math.sqrt),
    noiseDensity: noise,
    rms: quantity(
      rms,
      Math.hypot(
        displacement.rmsUncertainty ** 2 / (2 * Math.max(rms, 1e-300)),
        rms * diagnostics.wavelengthStandardUncertainty /
          diagnostics.wavelength,
      ),
      "m",
    ),
    noiseBandwidth: spectrum.noiseBandwidth,
    bandwidth: diagnostics.bandwidth,
    warnings: displacement.warnings,
    provenance: provenance({
      method: "measureDisplacementSpectrum",
      captures: displacement.provenance.captures,
      options: { segmentLength, window },
      inputs: displacement.provenance.inputs,
      sources: [
        "Welch 1967, IEEE Trans. Audio Electroacoust. 15, 70",
        "Heinzel, Rüdiger, Schilling 2002",
      ],
    }),
    diagnostics: { first, last, segments: spectrum.segmentCount },
  });
}

/** The longest run without a gap. */
function longestWhole(values: Float64Array): { first: number; last: number } {
  let best = { first: 0, last: -1 };
  let first = 0;
  for (let i = 0; i <= values.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look for gaps");
    if (i < values.length && values[i] === values[i]) continue;
    if (i - 1 - first > best.last - best.first) best = { first, last: i - 1 };
    first = i + 1;
  }
  return best;
}
