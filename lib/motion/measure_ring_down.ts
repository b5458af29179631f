import type { Capture } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
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
import {
  adviceOnDoubt,
  fitMotionModel,
  type MotionModel,
  type MotionModelFit,
  warnOfLostPhase,
  withoutFalseCertainty,
} from "./motion_model_fit.ts";
import { usualRows } from "./motion_rows.ts";
import { startsOfRingDown } from "./ring_down_start.ts";

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
   * Time of the release or of the step, in s from the first sample; `null` takes
   * the largest excursion in the first half of the record.
   *
   * @default {null}
   */
  start?: number | string | null;
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
    "the largest excursion in the first half of the record",
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

/** Ring-down or step response of the target. */
export interface RingDown extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.ringDown";
  /** Natural frequency f0 of the stronger mode, in Hz. */
  readonly naturalFrequency: Quantity;
  /** Damping ratio ζ of the stronger mode (1). */
  readonly dampingRatio: Quantity;
  /** Quality factor of the stronger mode (1). */
  readonly qualityFactor: Quantity;
  /** Settling time of the stronger mode, in s. */
  readonly settlingTime: Quantity;
  /** The modes, the stronger first. */
  readonly modes: readonly RingDownMode[];
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
 * least squares on the fringes themselves. Where the phase is doubtful and the
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
  const { displacement, options: { modes, start, settlingBand } } =
    readDisplacement(measured, options, ringDownSpec, "measure a ring-down");
  const { samplingRate } = displacement;
  const x = displacement.displacement;
  const n = x.length;
  const first = start === null
    ? largestExcursion(x)
    : Math.round(start * samplingRate);
  if (!(first >= 0 && first < n - 16)) {
    throw new RangeError(
      `Cannot measure a ring-down as 'start' must lie inside the record of ${
        n / samplingRate
      } s: current value is ${start} s`,
    );
  }
  const origin = first / samplingRate;
  const tail = x.subarray(first);
  const refined = ({ parameters }: MotionModelFit) =>
    fitModes(
      displacement,
      parameters,
      first,
      n,
      origin,
      rowsFor(parameters, (n - first) / samplingRate, usualRows, 256),
    );
  let count = 1;
  const one = chooseMode(displacement, null, tail, first, origin);
  let fit = refined(one);
  if (modes === 2 || (modes === "auto" && fit.excess > 1.5)) {
    const two = chooseMode(displacement, fit, tail, first, origin);
    const helps = (both: MotionModelFit, single: MotionModelFit) =>
      modes === 2 || both.excess < 0.7 * single.excess;
    const both = helps(two, one) ? refined(two) : null;
    if (both !== null && helps(both, fit)) {
      fit = both;
      count = 2;
    }
  }
  const { wavelength, wavelengthStandardUncertainty } =
    displacement.diagnostics;
  const isSeen = ({ amplitude }: RingDownMode) =>
    amplitude.value > 3 * amplitude.standardUncertainty;
  const modesOf = (fit: MotionModelFit) => {
    const all = Array.from(
      { length: count },
      (_, m) =>
        modeOf(
          fit,
          m,
          settlingBand,
          wavelengthStandardUncertainty / wavelength,
        ),
    ).sort((a, b) => b.amplitude.value - a.amplitude.value);
    // What follows a slow drift is no mode.
    const seen = all.filter(isSeen);
    return seen.length > 0 ? seen : all;
  };
  const found = modesOf(fit)[0]!;
  const duration = (n - first) / samplingRate;
  const periods = found.naturalFrequency.value * duration;
  if (!isSeen(found) || periods < 0.5) {
    const doubtful = displacement.diagnostics.doubtfulSamples;
    throw new NotMeasurableError(
      "no ring-down",
      doubtful > 0
        ? `Cannot measure a ring-down as the phase of the fringes was lost in ${doubtful} of ${n} samples and no decay fits what was found: ${adviceOnDoubt}`
        : `Cannot measure a ring-down as nothing oscillates after ${origin} s: give 'start', or record from the release on`,
    );
  }
  const reported = withoutFalseCertainty(fit, displacement);
  const list = modesOf(reported);
  const strongest = list[0]!;
  const { naturalFrequency, dampingRatio } = strongest;
  const warnings: Warning[] = [...displacement.warnings];
  if (!reported.determined) warnings.push(warnOfLostPhase(fit));
  if (!fit.converged) {
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
  if (2 * Math.PI * dampingRatio.value * periods < 0.5) {
    warnings.push(warn(
      "little-decay",
      "The record holds so little of the decay that the damping hardly shows: record longer",
      "note",
    ));
  }
  return createResult({
    kind: "motion.ringDown" as const,
    naturalFrequency,
    dampingRatio,
    qualityFactor: strongest.qualityFactor,
    settlingTime: strongest.settlingTime,
    modes: list,
    endValue: quantity(
      fit.parameters[0]!,
      Math.sqrt(reported.covariance[0]![0]!),
      "m",
    ),
    startTime: origin,
    warnings,
    provenance: provenance({
      method: "measureRingDown",
      captures: displacement.provenance.captures,
      options: { modes, start, settlingBand },
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

/** Rows on which starts are compared, at least. */
const rowsToChoose = 2048;
const mostRows = 1 << 18;

/** Rows of a fit that has so many of them in each period of its fastest mode. */
function rowsFor(
  parameters: readonly number[],
  duration: number,
  least: number,
  perPeriod: number,
): number {
  let fastest = 0;
  for (let i = 1; i < parameters.length; i += 4) {
    fastest = Math.max(fastest, parameters[i]!);
  }
  return Math.min(
    mostRows,
    Math.max(least, Math.ceil(perPeriod * fastest * duration)),
  );
}

/**
 * The best fit to few rows, from several starts, of one mode more than `known`
 * has; its starts are looked for in what that leaves.
 */
function chooseMode(
  displacement: Displacement,
  known: MotionModelFit | null,
  tail: Float64Array,
  first: number,
  origin: number,
): MotionModelFit {
  const { samplingRate } = displacement;
  const before = known === null ? [] : [...known.parameters];
  const model = modeModel((before.length - 1) / 4, origin);
  const left = known === null ? tail : new Float64Array(tail.length);
  if (known !== null) {
    for (let i = 0; i < tail.length; i++) {
      if ((i & 0x3fff) === 0x3fff) checkpoint();
      left[i] = tail[i]! - model.value(before, origin + i / samplingRate);
    }
  }
  const end = first + tail.length;
  let best: MotionModelFit | null = null;
  for (const { endValue, mode } of startsOfRingDown(left, samplingRate)) {
    const start = [(before[0] ?? 0) + endValue, ...before.slice(1), ...mode];
    const rows = rowsFor(
      start,
      tail.length / samplingRate,
      rowsToChoose,
      16,
    );
    const fit = fitModes(displacement, start, first, end, origin, rows);
    if (best === null || fit.excess < best.excess) best = fit;
    // Nothing but noise is left: no other start does better.
    if (best.converged && best.excess < 1.1) break;
  }
  if (best === null) {
    throw new NotMeasurableError(
      "no ring-down",
      `Cannot measure a ring-down as too few samples count after ${origin} s: give 'start', or record from the release on`,
    );
  }
  return best;
}

function fitModes(
  displacement: Displacement,
  start: readonly number[],
  first: number,
  n: number,
  origin: number,
  mostRows: number,
): MotionModelFit {
  const modes = (start.length - 1) / 4;
  const bound = (frequency: number, damping: number, other: number) => [
    other,
    ...Array.from({ length: modes }, () => [frequency, damping, other, other])
      .flat(),
  ];
  return fitMotionModel(
    displacement,
    modeModel(modes, origin),
    start,
    first,
    n - 1,
    {
      lower: bound(0, 0, -Infinity),
      upper: bound(displacement.samplingRate / 2, 0.999, Infinity),
      mostRows,
    },
  );
}

/** Parameters: x∞, then f0, ζ, a, b per mode. */
function modeModel(modes: number, origin: number): MotionModel {
  const part = (p: readonly number[], m: number, time: number) => {
    const omega = 2 * Math.PI * p[1 + 4 * m]!;
    const zeta = p[2 + 4 * m]!;
    const root = Math.sqrt(Math.max(1e-12, 1 - zeta * zeta));
    const decay = Math.exp(-zeta * omega * time);
    const c = decay * Math.cos(omega * root * time);
    const s = decay * Math.sin(omega * root * time);
    return { omega, zeta, root, c, s };
  };
  return {
    value: (p, time) => {
      let sum = p[0]!;
      for (let m = 0; m < modes; m++) {
        const { c, s } = part(p, m, time - origin);
        sum += p[3 + 4 * m]! * c + p[4 + 4 * m]! * s;
      }
      return sum;
    },
    derivatives: (p, time, into) => {
      const t = time - origin;
      into[0] = 1;
      for (let m = 0; m < modes; m++) {
        const { omega, zeta, root, c, s } = part(p, m, t);
        const a = p[3 + 4 * m]!;
        const b = p[4 + 4 * m]!;
        const value = a * c + b * s;
        const turned = b * c - a * s;
        into[1 + 4 * m] = 2 * Math.PI * t * (root * turned - zeta * value);
        into[2 + 4 * m] = omega * t * (-zeta / root * turned - value);
        into[3 + 4 * m] = c;
        into[4 + 4 * m] = s;
      }
    },
  };
}

function modeOf(
  fit: MotionModelFit,
  m: number,
  band: number,
  relative: number,
): RingDownMode {
  const i = 1 + 4 * m;
  const [f, z, a, b] = fit.parameters.slice(i, i + 4) as [
    number,
    number,
    number,
    number,
  ];
  const v = (j: number, k: number) => fit.covariance[i + j]![i + k]!;
  const uf = Math.sqrt(v(0, 0));
  const uz = Math.sqrt(v(1, 1));
  const root = Math.sqrt(1 - z * z);
  const amplitude = Math.hypot(a, b);
  const along = Math.sqrt(
    Math.max(0, a * a * v(2, 2) + 2 * a * b * v(2, 3) + b * b * v(3, 3)),
  ) / amplitude;
  const damped = f * root;
  const byZ = -f * z / root;
  const omega = 2 * Math.PI * f;
  const settling = -Math.log(band * root) / (z * omega);
  // d/dz of -ln(band sqrt(1-z²))/(zω).
  const settlingByZ = (z / (1 - z * z)) / (z * omega) - settling / z;
  const settlingByF = -settling / f;
  const carried = (byF: number, byDamping: number) =>
    Math.sqrt(Math.max(
      0,
      byF * byF * v(0, 0) + 2 * byF * byDamping * v(0, 1) +
        byDamping * byDamping * v(1, 1),
    ));
  return {
    naturalFrequency: quantity(f, uf, "Hz"),
    dampingRatio: quantity(z, uz, "1"),
    qualityFactor: quantity(1 / (2 * z), uz / (2 * z * z), "1"),
    dampedFrequency: quantity(damped, carried(root, byZ), "Hz"),
    amplitude: quantity(
      amplitude,
      Math.hypot(along, amplitude * relative),
      "m",
    ),
    settlingTime: quantity(settling, carried(settlingByF, settlingByZ), "s"),
  };
}

/** Mask of the samples between two checkpoints. */
const stride = 0xfffff;

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
