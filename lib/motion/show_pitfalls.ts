import type { Capture } from "../capture/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { findExtremes } from "./extremes.ts";
import { readOptions, requireCapture } from "../options/mod.ts";
import {
  motionInputs,
  type MotionOptions,
  motionSpec,
} from "./motion_options.ts";
import { trackCapture } from "./tracked_capture.ts";

/** Options of {@linkcode showPitfalls}. */
export type PitfallOptions = MotionOptions;

/** What a simpler evaluation of a capture would have given. */
export interface Pitfalls extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.pitfalls";
  /** Way passed both ways together, in m. */
  readonly path: Quantity;
  /** The way with a whole wavelength per fringe, in m: twice too long. */
  readonly pathWithWholeWavelength: number;
  /** The way from half fringes between all maxima and minima, in m. */
  readonly pathFromExtremes: number;
  /**
   * Half fringes that a count of maxima and minima adds or loses at turning
   * points (1).
   */
  readonly spuriousHalfFringes: number;
  /** Net displacement over each pair of turning points, in m. */
  readonly strokes: Float64Array;
  /** Mean change of the turning points from period to period, in m. */
  readonly driftPerPeriod: Quantity;
  /** Samples in the fastest fringe (1). */
  readonly samplesPerFringe: number;
  /** Height of the slowest fringes over that of the fastest (1). */
  readonly slowFringeHeight: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Maxima and minima seen (1). */
    readonly extremes: number;
    /** Turning points (1). */
    readonly turningPoints: number;
  };
}

/**
 * Shows where simpler evaluations of a capture go wrong: a wavelength instead of
 * half a wavelength per fringe, half fringes made up at turning points, drift
 * between strokes, too few samples per fringe, and the droop of AC coupling on
 * slow motion.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, polarity, conditioning.
 * @returns The way passed, and the wrong ones beside it; a warning for each
 * pitfall that this capture has.
 * @throws {NotMeasurableError} If there is no monitor signal or no fringe.
 *
 * @example
 * ```ts
 * import { showPitfalls, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * Math.sin(300 * time),
 *   samplingRate: 100e3,
 *   duration: 0.05,
 *   drive: null,
 * });
 * const { path, pathWithWholeWavelength } = showPitfalls(capture, {
 *   wavelength: 650e-9,
 * });
 * expect(pathWithWholeWavelength / path.value).toBe(2);
 * ```
 */
export function showPitfalls(
  capture: Capture,
  options: PitfallOptions,
): Pitfalls & Shown {
  requireCapture(capture, "show pitfalls");
  const filled = readOptions(motionSpec, options, "show pitfalls");
  const tracked = trackCapture(capture, filled, "show pitfalls");
  const { track, conditioning } = tracked;
  const { wavelength, refractiveIndex } = filled;
  const half = wavelength / 2 / refractiveIndex;
  const metres = half / (2 * Math.PI);
  const { signal, amplitude, noise } = conditioning;
  const extremes = findExtremes(
    signal,
    Math.max(0.25 * amplitude, Math.min(7 * noise, 1.3 * amplitude)),
  );
  const halves = Math.max(0, extremes.index.length - 1);
  const turns = track.turningPoints;
  const at = (k: number) => track.phase[turns[k]!]! * metres;
  const strokes = new Float64Array(Math.max(0, turns.length - 1));
  for (let k = 0; k < strokes.length; k++) strokes[k] = at(k + 1) - at(k);
  const drifts: number[] = [];
  for (let k = 0; k + 2 < turns.length; k++) drifts.push(at(k + 2) - at(k));
  const drift = drifts.length > 0
    ? drifts.reduce((a, b) => a + b, 0) / drifts.length
    : NaN;
  const driftUncertainty = Math.sqrt(
    drifts.reduce((sum, value) => sum + (value - drift) ** 2, 0) /
      Math.max(1, drifts.length - 1) / Math.max(1, drifts.length),
  );
  const spurious = halves - 2 * track.path;
  const height = slowHeight(extremes.index, extremes.value);
  const samplesPerFringe = 2 * track.fastest;
  const warnings: Warning[] = [...tracked.warnings];
  if (turns.length > 0) {
    warnings.push(warn(
      "turning-points",
      `At ${turns.length} turning points a count of maxima and minima is off by ${
        spurious.toFixed(1)
      } half fringes in all: count fractions of a fringe instead`,
      "note",
    ));
  }
  if (Math.abs(drift) > 3 * driftUncertainty + 1e-9) {
    warnings.push(warn(
      "drift",
      `The turning points move by ${
        (drift * 1e9).toPrecision(3)
      } nm from period to period: the target or the bench drifts`,
      "note",
    ));
  }
  if (samplesPerFringe < 10) {
    warnings.push(warn(
      "undersampled",
      `The fastest fringe has only ${
        samplesPerFringe.toFixed(1)
      } samples: its steep side cannot be timed`,
    ));
  }
  if (height < 0.85) {
    warnings.push(warn(
      "droop",
      `Slow fringes reach only ${
        (100 * height).toFixed(0)
      } % of the height of fast ones: AC coupling makes slow motion droop, so couple with DC`,
    ));
  }
  return createResult({
    kind: "motion.pitfalls" as const,
    path: quantity(track.path * half, half * 0.02, "m"),
    pathWithWholeWavelength: 2 * track.path * half,
    pathFromExtremes: halves * half / 2,
    spuriousHalfFringes: spurious,
    strokes,
    driftPerPeriod: quantity(
      drift,
      drifts.length > 1 ? driftUncertainty : NaN,
      "m",
    ),
    samplesPerFringe,
    slowFringeHeight: height,
    warnings,
    provenance: provenance({
      method: "showPitfalls",
      captures: [capture.source],
      options: { ...filled },
      inputs: motionInputs(options, filled),
    }),
    diagnostics: {
      extremes: extremes.index.length,
      turningPoints: turns.length,
    },
  });
}

/** Median swing of the slow half of the fringes over that of the fast half. */
function slowHeight(index: Int32Array, value: Float64Array): number {
  const legs: { time: number; swing: number }[] = [];
  for (let k = 2; k + 2 < index.length; k++) {
    // Whole fringes only: both neighbours swing alike.
    const swing = Math.abs(value[k + 1]! - value[k]!);
    legs.push({ time: index[k + 1]! - index[k]!, swing });
  }
  if (legs.length < 16) return 1;
  legs.sort((a, b) => a.time - b.time);
  const median = (part: { swing: number }[]) =>
    part.map(({ swing }) => swing).sort((a, b) => a - b)[part.length >> 1]!;
  const quarter = legs.length >> 2;
  return median(legs.slice(-quarter)) / median(legs.slice(0, quarter));
}
