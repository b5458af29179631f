import type { Capture } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import type { FeedbackRegime } from "../laser/mod.ts";
import { doubtfulPlaces } from "./doubtful_places.ts";
import { readOptions, requireCapture } from "../options/mod.ts";
import {
  motionInputs,
  type MotionOptions,
  motionSpec,
  type ReadMotionOptions,
} from "./motion_options.ts";
import type {
  FringeForm,
  MotionTrack,
  SampleTrace,
  TrackStretch,
} from "./motion_track.ts";
import { topOfMotion } from "./top_of_motion.ts";
import { trackCapture, type TrackedCapture } from "./tracked_capture.ts";

/** Options of {@linkcode measureDisplacement}. */
export type DisplacementOptions = MotionOptions;

/** Displacement of the target over time. */
export interface Displacement extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.displacement";
  /**
   * Distance minus that at the first sample that counts, in m, one per sample;
   * positive is receding; `NaN` in gaps.
   */
  readonly displacement: Float64Array;
  /**
   * Standard uncertainty of each sample against the fringes, in m (noise and
   * form of the fringe; the wavelength's, and the fringes that may be misread at
   * doubtful places, are in the quantities below).
   */
  readonly standardUncertainty: Float32Array;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Displacement of the last sample that counts, in m. */
  readonly netDisplacement: Quantity;
  /**
   * Largest minus smallest displacement, in m: of the motion, not of its noisy
   * samples, so turns that come back to one height are averaged.
   */
  readonly peakToPeak: Quantity;
  /** Way passed both ways together, in m. */
  readonly path: Quantity;
  /** Root mean square of `standardUncertainty`, in m. */
  readonly rmsUncertainty: number;
  /** Whether the sense of motion follows from the capture. */
  readonly directionDetermined: boolean;
  /** Where the sense of motion comes from. */
  readonly directionSource: "fringe form" | "drive channel" | "not determined";
  /** Feedback parameter C (1). */
  readonly feedbackParameter: Quantity;
  /** Linewidth enhancement factor α (1). */
  readonly linewidthEnhancementFactor: Quantity;
  /** Feedback regime. */
  readonly regime: FeedbackRegime;
  /** Sign of the amplifier that was taken. */
  readonly polarity: 1 | -1;
  /** Times of the turning points, in s from the first sample. */
  readonly turningPoints: Float64Array;
  /** Stretches without a gap, as sample indices. */
  readonly stretches: readonly TrackStretch[];
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Wavelength in the air over 4π: m per rad of φ0. */
    readonly metresPerRadian: number;
    /** Vacuum wavelength, in m. */
    readonly wavelength: number;
    /** Standard uncertainty of the wavelength, in m. */
    readonly wavelengthStandardUncertainty: number;
    /** Noise over the amplitude of the fringe (1). */
    readonly relativeNoise: number;
    /** Middle level of the fringes, in the unit of the signal. */
    readonly middle: number;
    /** Signal per cos φF, in the unit of the signal. */
    readonly amplitude: number;
    /** Form of the fringes, by which a signal follows from a displacement. */
    readonly fringeForm: FringeForm;
    /** Time between knots of the spline, in s. */
    readonly knotSpacing: number;
    /** Band that the spline follows, half the knot rate, in Hz. */
    readonly bandwidth: number;
    /** Samples where the fit leaves more than the noise. */
    readonly doubtfulSamples: number;
    /**
     * By how much the course is likelier than another that is half a fringe or more
     * off somewhere: logarithm of the ratio of the likelihoods (1), `Infinity` beyond
     * doubt; `null` for long records.
     */
    readonly margin: number | null;
    /** The conditioned signal, in its unit. */
    readonly signal: Float64Array;
    /** SI unit of the signal. */
    readonly signalUnit: string;
    /** What each sample says; `null` for long records. */
    readonly trace: SampleTrace | null;
  };
}

/**
 * Measures the displacement of a target from the phase of the fringes,
 * ΔL = λ φ0/(4πn). φ0 is a cubic spline that is fitted to the signal itself
 * together with C, α and the levels of the fringe, so that every sample counts
 * with the slope it has; knots are as close as Akaike's criterion asks for.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, polarity, conditioning.
 * @returns Displacement and standard uncertainty of each sample in m, C and α,
 * turning points, gaps.
 * @throws {NotMeasurableError} If there is no monitor signal or no fringe.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: Lang, Kobayashi 1980 (excess phase); Bes, Plantier, Bosch 2006 (from memory) (phase
 * unwrapping with joint C and α); the bound in {@linkcode displacementBound}.
 *
 * @example
 * ```ts
 * import { measureDisplacement, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * Math.sin(300 * time),
 *   samplingRate: 100e3,
 *   duration: 0.05,
 *   feedbackParameter: 0.7,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { peakToPeak } = measureDisplacement(capture, { wavelength: 650e-9 });
 * expect(Math.abs(peakToPeak.value - 2e-6)).toBeLessThan(5e-9);
 * ```
 */
export function measureDisplacement(
  capture: Capture,
  options: DisplacementOptions,
): Displacement & Shown {
  requireCapture(capture, "measure a displacement");
  const filled = readOptions(motionSpec, options, "measure a displacement");
  const tracked = trackCapture(capture, filled, "measure a displacement");
  return displacementOf(capture, options, filled, tracked);
}

/** The displacement of a tracked capture, whose phase is turned into it in place. */
export function displacementOf(
  capture: Capture,
  options: DisplacementOptions,
  filled: ReadMotionOptions,
  tracked: TrackedCapture,
): Displacement & Shown {
  const { track, conditioning, polarity, directionSource } = tracked;
  const { wavelength, wavelengthStandardUncertainty, refractiveIndex } = filled;
  const { samplingRate } = capture;
  const metresPerRadian = wavelength / refractiveIndex / (4 * Math.PI);
  const relative = wavelengthStandardUncertainty / wavelength;
  const summary = summarise(track, metresPerRadian);
  const length = (value: number, uncertainty: number) =>
    quantity(value, Math.hypot(uncertainty, value * relative), "m");
  const { feedback } = track;
  return createResult({
    kind: "motion.displacement" as const,
    displacement: summary.displacement,
    standardUncertainty: summary.uncertainty,
    samplingRate,
    netDisplacement: length(
      summary.last,
      Math.hypot(
        summary.firstUncertainty,
        summary.lastUncertainty,
        summary.netDoubt,
      ),
    ),
    peakToPeak: length(
      summary.span,
      Math.hypot(summary.spanUncertainty, summary.spanDoubt),
    ),
    path: length(
      track.path * 2 * Math.PI * metresPerRadian,
      Math.hypot(
        summary.rms * Math.sqrt(2 + 4 * track.turningPoints.length),
        summary.netDoubt,
      ),
    ),
    rmsUncertainty: summary.rms,
    directionDetermined: directionSource !== "not determined",
    directionSource,
    feedbackParameter: feedback.feedbackParameter,
    linewidthEnhancementFactor: feedback.linewidthEnhancementFactor,
    regime: feedback.regime,
    polarity,
    turningPoints: Float64Array.from(
      track.turningPoints,
      (i) => i / samplingRate,
    ),
    stretches: track.stretches,
    warnings: tracked.warnings,
    provenance: provenance({
      method: "measureDisplacement",
      captures: [capture.source],
      options: { ...filled },
      inputs: motionInputs(options, filled),
      sources: [
        "Lang, Kobayashi 1980, IEEE J. Quantum Electron. 16, 347",
        "Bes, Plantier, Bosch 2006, IEEE Trans. Instrum. Meas. 55, 1101 (from memory)",
      ],
    }),
    diagnostics: {
      metresPerRadian,
      wavelength,
      wavelengthStandardUncertainty,
      relativeNoise: track.relativeNoise,
      middle: track.middle,
      amplitude: track.amplitude,
      fringeForm: track.fringeForm,
      knotSpacing: track.spacing / samplingRate,
      bandwidth: samplingRate / track.spacing / 2,
      doubtfulSamples: track.doubtfulSamples,
      margin: track.margin,
      signal: conditioning.signal,
      signalUnit: conditioning.unit,
      trace: track.trace,
    },
  });
}

/** Turns rad into m in place and finds the ends and extremes. */
function summarise(track: MotionTrack, scale: number) {
  const displacement = track.phase;
  const { uncertainty } = track;
  // Half a fringe for each place where the phase may be misread.
  const doubt = (count: number) => Math.PI * scale * Math.sqrt(count);
  const places = track.doubtfulSamples > 0 ? doubtfulPlaces(uncertainty) : [];
  // A long record says how many, not where.
  const elsewhere = places.length === 0 && track.doubtfulSamples > 0
    ? Math.max(1, track.doubtfulSamples / track.spacing)
    : 0;
  const { first, last, high, low, rms } = scaleInPlace(
    displacement,
    uncertainty,
    scale,
  );
  const between = places.filter((i) =>
    i >= Math.min(high, low) && i <= Math.max(high, low)
  );
  const course = {
    values: displacement,
    uncertainty,
    turningPoints: track.turningPoints,
    spacing: track.spacing,
  };
  const top = topOfMotion(course, 1, high);
  const bottom = topOfMotion(course, -1, low);
  return {
    displacement,
    uncertainty,
    last: displacement[last]!,
    span: top.value - bottom.value,
    firstUncertainty: uncertainty[first]!,
    lastUncertainty: uncertainty[last]!,
    // The form of the fringes may be off alike at both.
    spanUncertainty: Math.hypot(
      top.uncertainty,
      bottom.uncertainty,
      2 * track.fringeForm.uncertainty * scale,
    ),
    netDoubt: doubt(places.length + elsewhere),
    // A place before the extremes may have moved one of them.
    spanDoubt: doubt(
      Math.max(between.length, Math.min(1, places.length)) + elsewhere,
    ),
    rms,
  };
}

/**
 * Multiplies values and their uncertainty in place; finds the ends, the extremes
 * and the root mean square of the uncertainty of those that are not `NaN`.
 */
function scaleInPlace(
  values: Float64Array,
  uncertainty: Float32Array,
  scale: number,
) {
  let first = -1, last = -1, high = -1, low = -1;
  let highest = -Infinity, lowest = Infinity;
  let squares = 0;
  let count = 0;
  for (let i = 0; i < values.length; i++) {
    if ((i & 0x3ffff) === 0x3ffff) checkpoint(NaN, "scale the displacement");
    const value = values[i]! * scale;
    const u = uncertainty[i]! * scale;
    values[i] = value;
    uncertainty[i] = u;
    if (value !== value) continue;
    if (first < 0) first = i;
    last = i;
    if (value > highest) {
      highest = value;
      high = i;
    }
    if (value < lowest) {
      lowest = value;
      low = i;
    }
    squares += u * u;
    count++;
  }
  return { first, last, high, low, rms: Math.sqrt(squares / count) };
}
