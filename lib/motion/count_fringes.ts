import type { Capture } from "../capture/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { doubtfulPlaces } from "./doubtful_places.ts";
import { readOptions, requireCapture } from "../options/mod.ts";
import {
  motionInputs,
  type MotionOptions,
  motionSpec,
  type ReadMotionOptions,
} from "./motion_options.ts";
import { trackCapture, type TrackedCapture } from "./tracked_capture.ts";

/** Options of {@linkcode countFringes}. */
export type CountFringesOptions = MotionOptions;

/** Fringes of a moving target. */
export interface FringeCount extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.fringes";
  /** Fringes passed both ways together, with the fraction (1). */
  readonly fringeCount: Quantity;
  /**
   * Fringes receding minus approaching, with the fraction (1); positive where
   * the target ends farther away. Uncertainty `NaN` where the direction is not
   * determined.
   */
  readonly netFringeCount: Quantity;
  /** Way passed both ways together, in m: λ/2n per fringe. */
  readonly path: Quantity;
  /** Distance at the end minus that at the start, in m. */
  readonly displacement: Quantity;
  /** Which way the target went. */
  readonly direction: "receding" | "approaching" | "both" | "not determined";
  /** Whether the sense of motion follows from the capture. */
  readonly directionDetermined: boolean;
  /** Time of each fringe, in s from the first sample. */
  readonly times: Float64Array;
  /** Way of each fringe: 1 receding, -1 approaching. */
  readonly signs: Int8Array;
  /** Times of the turning points, in s from the first sample. */
  readonly turningPoints: Float64Array;
  /**
   * Fringes passed without a steep side of their own: lost in the hysteresis at
   * turning points (C > 1), and the fractions at the ends (1).
   */
  readonly missingFringes: number;
  /** Sign of the amplifier that was taken. */
  readonly polarity: 1 | -1;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Middle level of the fringes, in the unit of the signal. */
    readonly middle: number;
    /** Signal per cos φF, in the unit of the signal. */
    readonly amplitude: number;
    /** Noise, rms, in the unit of the signal. */
    readonly noise: number;
    /** Feedback parameter C (1). */
    readonly feedbackParameter: Quantity;
    /** Linewidth enhancement factor α (1). */
    readonly linewidthEnhancementFactor: Quantity;
    /** C sin ψ over its standard uncertainty (1): how sure the way is. */
    readonly significance: number;
    /** Standard uncertainty of each fringe's time, in s. */
    readonly timeUncertainties: Float64Array;
    /** Samples where the fit leaves more than the noise. */
    readonly doubtfulSamples: number;
    /** The conditioned signal, in its unit; `NaN` where it was not used. */
    readonly signal: Float64Array;
    /** SI unit of the signal. */
    readonly signalUnit: string;
    /** Samples per second, in Hz. */
    readonly samplingRate: number;
  };
}

/**
 * Counts the fringes of a moving target: one fringe is half a wavelength,
 * ΔL = λ/2n. Counts with the fraction, from the phase at both ends, and with the
 * sense of motion where the saw-tooth form of the fringes tells it.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, polarity of the amplifier, conditioning.
 * @returns Fringes with sign and time, way and displacement in m.
 * @throws {NotMeasurableError} If there is no monitor signal or no fringe.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: Donati, Giuliani, Merlo 1995 (from memory) (sign from the saw-tooth form).
 *
 * @example A target that recedes by two wavelengths makes four fringes
 * ```ts
 * import { countFringes, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1.3e-6 * time,
 *   samplingRate: 10e3,
 *   duration: 1,
 *   feedbackParameter: 0.7,
 * });
 * const { netFringeCount } = countFringes(capture, { wavelength: 650e-9 });
 * expect(Math.abs(netFringeCount.value - 4)).toBeLessThan(0.02);
 * ```
 */
export function countFringes(
  capture: Capture,
  options: CountFringesOptions,
): FringeCount & Shown {
  requireCapture(capture, "count fringes");
  const filled = readOptions(motionSpec, options, "count fringes");
  const tracked = trackCapture(capture, filled, "count fringes");
  return fringesOf(capture, options, filled, tracked);
}

/** The fringes of a tracked capture, which is left as it is. */
export function fringesOf(
  capture: Capture,
  options: CountFringesOptions,
  filled: ReadMotionOptions,
  { track, conditioning, polarity, directionSource, warnings }: TrackedCapture,
): FringeCount & Shown {
  const { wavelength, wavelengthStandardUncertainty, refractiveIndex } = filled;
  const { samplingRate } = capture;
  const { phase, uncertainty, fringePlaces, fringeSigns, feedback } = track;
  const first = phase.findIndex((value) => value === value);
  const last = phase.findLastIndex((value) => value === value);
  const turn = 2 * Math.PI;
  const ends = Math.hypot(uncertainty[first]!, uncertainty[last]!) / turn;
  const turns = Math.sqrt(
    track.turningPoints.reduce((sum, i) => sum + 4 * uncertainty[i]! ** 2, 0),
  ) / turn;
  // Each doubtful place may hide a half fringe, each gap any number.
  const doubt = track.doubtfulSamples > 0
    ? 0.5 * Math.sqrt(Math.max(1, doubtfulPlaces(uncertainty).length))
    : 0;
  const gaps = track.stretches.length > 1 ? Infinity : 0;
  const directionDetermined = directionSource !== "not determined";
  const net = (phase[last]! - phase[first]!) / turn;
  const netUncertainty = directionDetermined
    ? Math.hypot(ends, doubt, gaps)
    : NaN;
  const countUncertainty = Math.hypot(ends, turns, doubt, gaps);
  const half = wavelength / 2 / refractiveIndex;
  const relative = wavelengthStandardUncertainty / wavelength;
  const toLength = (value: number, u: number) =>
    quantity(value * half, half * Math.hypot(u, value * relative), "m");
  const recedes = fringeSigns.includes(1) ||
    (track.turningPoints.length === 0 && net > 0);
  const approaches = fringeSigns.includes(-1) ||
    (track.turningPoints.length === 0 && net < 0);
  return createResult({
    kind: "motion.fringes" as const,
    fringeCount: quantity(track.path, countUncertainty, "1"),
    netFringeCount: quantity(net, netUncertainty, "1"),
    path: toLength(track.path, countUncertainty),
    displacement: toLength(net, netUncertainty),
    direction: !directionDetermined
      ? "not determined" as const
      : recedes && approaches
      ? "both" as const
      : recedes
      ? "receding" as const
      : "approaching" as const,
    directionDetermined,
    times: fringePlaces.map((place) => place / samplingRate),
    signs: fringeSigns,
    turningPoints: Float64Array.from(
      track.turningPoints,
      (i) => i / samplingRate,
    ),
    missingFringes: track.path - fringePlaces.length,
    polarity,
    warnings,
    provenance: provenance({
      method: "countFringes",
      captures: [capture.source],
      options: { ...filled },
      inputs: motionInputs(options, filled),
      sources: [
        "Donati, Giuliani, Merlo 1995, IEEE J. Quantum Electron. 31, 113 (from memory)",
      ],
    }),
    diagnostics: {
      middle: track.middle,
      amplitude: track.amplitude,
      noise: conditioning.noise,
      feedbackParameter: feedback.feedbackParameter,
      linewidthEnhancementFactor: feedback.linewidthEnhancementFactor,
      significance: feedback.directionSignificance,
      timeUncertainties: timeUncertainties(
        fringePlaces,
        phase,
        uncertainty,
        samplingRate,
      ),
      doubtfulSamples: track.doubtfulSamples,
      signal: conditioning.signal,
      signalUnit: conditioning.unit,
      samplingRate,
    },
  });
}

/** u(t) = u(φ0) / |dφ0/dt|, in s. */
function timeUncertainties(
  places: Float64Array,
  phase: Float64Array,
  uncertainty: Float32Array,
  samplingRate: number,
): Float64Array {
  return places.map((place) => {
    const i = Math.max(0, Math.min(phase.length - 2, Math.floor(place)));
    const speed = Math.abs(phase[i + 1]! - phase[i]!) * samplingRate;
    return uncertainty[i]! / speed;
  });
}
