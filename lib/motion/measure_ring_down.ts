import type { Capture } from "../capture/mod.ts";
import {
  choiceOption,
  type Option,
  optional,
  optionOf,
  quantityOption,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
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
import { type OfCapture, readDisplacement } from "./displacement_argument.ts";
import type { Displacement } from "./measure_displacement.ts";
import { warnOfLostPhase } from "./motion_model_fit.ts";
import { fitDecays, meanMode } from "./ring_down_fit.ts";
import { type DecaySpan, findDecays } from "./ring_down_releases.ts";

/**
 * Options of {@linkcode measureRingDown}; those of `measureDisplacement` with a
 * capture only.
 */
export interface RingDownOptions extends OfCapture {
  /**
   * Modes fitted (1): 1, 2, or "auto" for a second one where the first leaves
   * much more than the noise.
   *
   * @default {"auto"}
   */
  modes?: 1 | 2 | "auto";
  /**
   * Time of the release or of the step, in s from the first sample; `null` finds
   * releases after a rest, else takes the largest excursion in the first half.
   *
   * @default {null}
   */
  start?: number | string | null;
  /**
   * Decays measured: all that the record holds, averaged, or the first. With
   * `start` it is the one that starts there.
   *
   * @default {"all"}
   */
  decays?: "all" | "first";
  /**
   * Band around the end value that counts as settled, as a part of the first
   * amplitude (1).
   *
   * @default {0.02}
   */
  settlingBand?: number | string;
}

export const ringDownSpec = {
  modes: optional(
    choiceOption("Modes fitted (1).", [1, 2, "auto"]),
    "auto",
    "a second one where the first leaves much more than the noise",
  ),
  start: optional(
    optionOf.finite(
      "Time of the release or of the step, in s from the first sample.",
      "s",
      "20ms",
    ),
    null,
    "releases after a rest, else the largest excursion in the first half",
  ),
  decays: optional(
    choiceOption(
      "Decays measured: all that the record holds, averaged, or the first.",
      ["all", "first"],
    ),
    "all",
  ),
  settlingBand: optional(
    quantityOption({
      doc: "Band around the end value that counts as settled, as a part of " +
        "the first amplitude (1).",
      unit: "1",
      above: 0,
      most: 1,
      example: "2%",
    }),
    0.02,
  ),
} satisfies Record<Exclude<keyof RingDownOptions, keyof OfCapture>, Option>;

/** One mode of a ring-down. */
export interface RingDownMode {
  /** Natural frequency without damping f0, in Hz. */
  readonly naturalFrequency: Quantity;
  /** Damping ratio ζ (1). */
  readonly dampingRatio: Quantity;
  /** Quality factor Q = 1/(2ζ) (1). */
  readonly qualityFactor: Quantity;
  /** Frequency of the damped oscillation f0 sqrt(1 - ζ²), in Hz. */
  readonly dampedFrequency: Quantity;
  /** Amplitude at the start, in m. */
  readonly amplitude: Quantity;
  /** Time to stay within the settling band, in s. */
  readonly settlingTime: Quantity;
}

/** One of several decays of a record: its stronger mode. */
export interface RingDownDecay {
  /** Where its fit starts, in s from the first sample. */
  readonly startTime: number;
  /** Natural frequency f0, in Hz. */
  readonly naturalFrequency: Quantity;
  /** Damping ratio ζ (1). */
  readonly dampingRatio: Quantity;
  /** Quality factor Q (1). */
  readonly qualityFactor: Quantity;
  /** Amplitude at the start, in m. */
  readonly amplitude: Quantity;
}

/** Ring-down or step response of the target. */
export interface RingDown extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.ringDown";
  /** Natural frequency f0 of the stronger mode, in Hz; of all decays the mean. */
  readonly naturalFrequency: Quantity;
  /** Damping ratio ζ of the stronger mode (1); the mean likewise. */
  readonly dampingRatio: Quantity;
  /** Quality factor of the stronger mode (1); that of the mean ζ. */
  readonly qualityFactor: Quantity;
  /** Settling time of the stronger mode, in s; the mean likewise. */
  readonly settlingTime: Quantity;
  /** The modes of the decay with the largest amplitude, the stronger first. */
  readonly modes: readonly RingDownMode[];
  /** The decays of the record in order of time. */
  readonly decays: readonly RingDownDecay[];
  /** End value of the displacement, in m. */
  readonly endValue: Quantity;
  /** Where the fit starts, in s from the first sample. */
  readonly startTime: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Noise left over that of the signal (1). */
    readonly excess: number;
    /** Root mean square of what is left over that of the motion (1). */
    readonly unexplained: number;
    /** Times of the residuals, in s. */
    readonly residualTimes: Float64Array;
    /** What the model leaves, in m. */
    readonly residuals: Float64Array;
    /** Fitted parameters: end value, then f0, ζ, a, b per mode. */
    readonly parameters: readonly number[];
  };
}

/**
 * Measures a free decay or the response to a step: one or two modes
 * x(t) = x∞ + Σ e^{-ζω₀t} (a cos ω_d t + b sin ω_d t), ω_d = ω₀ sqrt(1 - ζ²), by
 * least squares on the fringes themselves. Where the record holds several decays
 * (rest, release, decay, again), each is found and fitted, and f0 and ζ are their
 * weighted means, with the uncertainty of the mean or of their scatter (Birge),
 * whichever is larger. Where the phase is doubtful and the
 * modes leave more than a tenth of the motion, the values have no uncertainty
 * (`NaN`) and the warning `not-determined`.
 *
 * @param displacement Result of `measureDisplacement`.
 * @param options Number of modes, start, settling band.
 * @returns f0 in Hz, ζ, Q, settling time in s, with standard uncertainties.
 * @throws {NotMeasurableError} If nothing oscillates after the start, or the phase
 * of the fringes was lost and no decay fits.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: any textbook of vibrations: damped oscillator, common practice.
 *
 * @example
 * ```ts
 * import {
 *   measureDisplacement,
 *   measureRingDown,
 *   simulateCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) =>
 *     0.1 + 3e-6 * Math.exp(-20 * time) * Math.cos(2 * Math.PI * 100 * time),
 *   samplingRate: 100e3,
 *   duration: 0.1,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { naturalFrequency, qualityFactor } = measureRingDown(
 *   measureDisplacement(capture, { wavelength: 650e-9 }),
 * );
 * expect(Math.abs(naturalFrequency.value - 100.05)).toBeLessThan(0.05);
 * expect(Math.abs(qualityFactor.value - 15.7)).toBeLessThan(0.2);
 * ```
 */
export function measureRingDown(
  measured: Displacement | Capture,
  options: RingDownOptions = {},
): RingDown & Shown {
  const { displacement, options: { modes, start, decays, settlingBand } } =
    readDisplacement(measured, options, ringDownSpec, "measure a ring-down");
  const { samplingRate } = displacement;
  const x = displacement.displacement;
  const n = x.length;
  const found = start === null ? findDecays(x, samplingRate) : [];
  const isAlone = decays === "first" || found.length < 2;
  const [only] = found;
  const first = start !== null
    ? Math.round(start * samplingRate)
    : only !== undefined && (decays === "first" || restsBefore(only, x))
    ? only.first
    : largestExcursion(x);
  if (!(first >= 0 && first < n - 16)) {
    throw new RangeError(
      `Cannot measure a ring-down as 'start' must lie inside the record of ${
        n / samplingRate
      } s: current value is ${start} s`,
    );
  }
  const spans = isAlone
    ? [{ first, end: decays === "first" ? only?.end ?? n : n }]
    : found;
  const { fits, failed, reason } = fitDecays(displacement, spans, {
    modes,
    settlingBand,
  });
  if (fits.length === 0) throw reason!;
  const main = fits.reduce((a, b) =>
    b.modes[0]!.amplitude.value > a.modes[0]!.amplitude.value ? b : a
  );
  const { fit, reported, count } = main;
  const list = main.modes;
  const mean = fits.length === 1 ? { ...list[0]!, ratio: 1 } : meanMode(fits);
  const { naturalFrequency, dampingRatio } = mean;
  const warnings: Warning[] = [...displacement.warnings];
  if (fits.some(({ reported }) => !reported.determined)) {
    warnings.push(warnOfLostPhase(fit));
  }
  if (fits.some(({ fit }) => !fit.converged)) {
    warnings.push(warn(
      "not-converged",
      "The fit of the ring-down did not settle: give 'start' or fewer 'modes'",
    ));
  }
  if (fit.excess > 1.3) {
    warnings.push(warn(
      "model-misfit",
      `${count} linear ${count === 1 ? "mode leaves" : "modes leave"} ${
        fit.excess.toFixed(1)
      } times the noise: the damping may depend on the amplitude, or there are more modes; the uncertainties are widened by that`,
    ));
  }
  if (2 * Math.PI * dampingRatio.value * main.periods < 0.5) {
    warnings.push(warn(
      "little-decay",
      "The record holds so little of the decay that the damping hardly shows: record longer",
      "note",
    ));
  }
  if (failed > 0) {
    warnings.push(warn(
      "decays-left-out",
      `${failed} of ${spans.length} decays were left out, as no decaying oscillation fits them`,
      failed > spans.length / 4 ? "doubtful" : "note",
    ));
  }
  if (mean.ratio > 2) {
    warnings.push(warn(
      "decays-differ",
      `The decays differ by ${
        mean.ratio.toFixed(1)
      } times their uncertainties, which are widened by that: the target may not have been let go in the same way, or its damping depends on the amplitude`,
      "note",
    ));
  }
  return createResult({
    kind: "motion.ringDown" as const,
    naturalFrequency,
    dampingRatio,
    qualityFactor: mean.qualityFactor,
    settlingTime: mean.settlingTime,
    modes: list,
    decays: fits.map(({ modes: [own], startTime }) => ({
      startTime,
      naturalFrequency: own!.naturalFrequency,
      dampingRatio: own!.dampingRatio,
      qualityFactor: own!.qualityFactor,
      amplitude: own!.amplitude,
    })),
    endValue: quantity(
      fit.parameters[0]!,
      Math.sqrt(reported.covariance[0]![0]!),
      "m",
    ),
    startTime: main.startTime,
    warnings,
    provenance: provenance({
      method: "measureRingDown",
      captures: displacement.provenance.captures,
      options: { modes, start, decays, settlingBand },
      inputs: displacement.provenance.inputs,
    }),
    diagnostics: {
      excess: fit.excess,
      unexplained: fit.unexplained,
      residualTimes: fit.residualTimes,
      residuals: fit.residuals,
      parameters: fit.parameters,
    },
  });
}

/** Whether the target rests for a twentieth of the record before it is let go. */
function restsBefore({ first }: DecaySpan, x: Float64Array): boolean {
  return first > x.length / 20;
}

/** Mask of the samples between two checkpoints. */
const stride = 0x3ffff;

/** Sample of the largest excursion from the end in the first half. */
function largestExcursion(x: Float64Array): number {
  const end = endValueOf(x);
  let largest = 0;
  let index = 0;
  for (let i = 0; i < x.length / 2; i++) {
    if ((i & stride) === stride) checkpoint();
    const size = Math.abs(x[i]! - end);
    if (size > largest) {
      largest = size;
      index = i;
    }
  }
  return index;
}

/** Mean of the last fifth. */
function endValueOf(x: Float64Array): number {
  let sum = 0;
  let count = 0;
  for (let i = Math.floor(x.length * 0.8); i < x.length; i++) {
    if ((i & stride) === stride) checkpoint();
    if (x[i] !== x[i]) continue;
    sum += x[i]!;
    count++;
  }
  return count > 0 ? sum / count : 0;
}
