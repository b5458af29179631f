import type { Capture } from "../capture/mod.ts";
import type { FeedbackRegime } from "../laser/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { feedbackByTiming, type TimingEstimate } from "./feedback_timing.ts";
import { readOptions, requireCapture } from "../options/mod.ts";
import {
  motionInputs,
  type MotionOptions,
  motionSpec,
} from "./motion_options.ts";
import { trackCapture } from "./tracked_capture.ts";

/** Options of {@linkcode estimateFeedback}. */
export type FeedbackEstimateOptions = MotionOptions;

/** Feedback parameter and linewidth enhancement factor of a bench. */
export interface FeedbackEstimate extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.feedback";
  /** Feedback parameter C (1), from the fit. */
  readonly feedbackParameter: Quantity;
  /** Linewidth enhancement factor α (1), from the fit. */
  readonly linewidthEnhancementFactor: Quantity;
  /** Regime that C belongs to. */
  readonly regime: FeedbackRegime;
  /** The same from times within fringes; `null` outside of moderate feedback. */
  readonly timing: TimingEstimate | null;
  /** Sign of the amplifier that was taken. */
  readonly polarity: 1 | -1;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** φF of samples spread over the record, in rad, modulo 2π. */
    readonly feedbackPhase: Float32Array;
    /** Signal there, from -1 to 1 (1). */
    readonly signal: Float32Array;
    /** Way there: 1 receding, -1 approaching. */
    readonly way: Int8Array;
    /** Noise over the amplitude (1). */
    readonly relativeNoise: number;
    /** Fringes of the record (1). */
    readonly fringes: number;
  };
}

/**
 * Estimates C and α from the form of the fringes of a moving target: by a fit of
 * the excess-phase model in all regimes, and from times within the fringes in
 * moderate feedback. The motion need not be known.
 *
 * @param capture A capture with a monitor signal.
 * @param options Wavelength in m, conditioning.
 * @returns C and α with standard uncertainties, regime, both methods.
 * @throws {NotMeasurableError} If there is no monitor signal or no fringe.
 *
 * Source: Yu, Giuliani, Donati 2004 (timing); Gao et al. 2014 (joint least
 * squares of C, α and the motion).
 *
 * @example
 * ```ts
 * import { estimateFeedback, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 2e-6 * Math.sin(300 * time),
 *   samplingRate: 100e3,
 *   duration: 0.05,
 *   feedbackParameter: 2,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { feedbackParameter, regime } = estimateFeedback(capture, {
 *   wavelength: 650e-9,
 * });
 * expect(Math.abs(feedbackParameter.value - 2)).toBeLessThan(0.06);
 * expect(regime).toBe("moderate");
 * ```
 */
export function estimateFeedback(
  capture: Capture,
  options: FeedbackEstimateOptions,
): FeedbackEstimate & Shown {
  requireCapture(capture, "estimate the feedback");
  const filled = readOptions(motionSpec, options, "estimate the feedback");
  const tracked = trackCapture(capture, filled, "estimate the feedback");
  const { track, conditioning, polarity } = tracked;
  const { feedback } = track;
  const warnings: Warning[] = [...tracked.warnings];
  const { feedbackParameter, linewidthEnhancementFactor } = feedback;
  const alpha = linewidthEnhancementFactor;
  if (!(alpha.standardUncertainty < 0.3 * alpha.value)) {
    warnings.push(warn(
      "alpha-not-determined",
      `α is hardly determined (${
        alpha.value.toPrecision(3)
      } with a standard uncertainty of ${
        alpha.standardUncertainty.toPrecision(2)
      }): record more fringes, with less noise or more feedback`,
    ));
  }
  const moderate = feedbackParameter.value > 1 && track.trace !== null;
  const signed = polarity === -1
    ? conditioning.signal.map((value) => 2 * track.middle - value)
    : conditioning.signal;
  const timing = moderate ? feedbackByTiming(signed, track) : null;
  if (timing !== null) {
    const { value, standardUncertainty } = timing.feedbackParameter;
    const apart = Math.abs(value - feedbackParameter.value);
    const allowed = 4 * Math.hypot(
          standardUncertainty,
          feedbackParameter.standardUncertainty,
        ) + 0.03 * value;
    if (apart > allowed) {
      warnings.push(warn(
        "methods-disagree",
        `C from timing (${value.toPrecision(3)}) and from the fit (${
          feedbackParameter.value.toPrecision(3)
        }) do not agree: the fringes are not those of the excess-phase model`,
      ));
    }
  }
  return createResult({
    kind: "motion.feedback" as const,
    feedbackParameter,
    linewidthEnhancementFactor,
    regime: feedback.regime,
    timing,
    polarity,
    warnings,
    provenance: provenance({
      method: "estimateFeedback",
      captures: [capture.source],
      options: { ...filled },
      inputs: motionInputs(options, filled),
      sources: [
        "Yu, Giuliani, Donati 2004, IEEE Photonics Technol. Lett. 16, 990 (from memory)",
        "Gao et al. 2014, Appl. Opt. 53, 4256",
      ],
    }),
    diagnostics: {
      ...profile(conditioning.signal, track),
      relativeNoise: track.relativeNoise,
      fringes: track.path,
    },
  });
}

/** Some thousand samples of the fringe against φF, for a figure. */
function profile(
  signal: Float64Array,
  track: {
    phase: Float64Array;
    middle: number;
    amplitude: number;
    trace: { feedbackPhase: Float32Array } | null;
  },
) {
  if (track.trace === null) {
    const none = new Float32Array(0);
    return { feedbackPhase: none, signal: none, way: new Int8Array(0) };
  }
  const n = signal.length;
  const step = Math.max(1, Math.floor(n / 4000));
  const indices: number[] = [];
  for (let i = 1; i < n; i += step) {
    if (signal[i] === signal[i]) indices.push(i);
  }
  const { trace, phase, middle, amplitude } = track;
  return {
    feedbackPhase: Float32Array.from(indices, (i) => trace.feedbackPhase[i]!),
    signal: Float32Array.from(
      indices,
      (i) => (signal[i]! - middle) / amplitude,
    ),
    way: Int8Array.from(indices, (i) => Math.sign(phase[i]! - phase[i - 1]!)),
  };
}
