import type { Capture } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { type Option, optional, optionOf } from "../options/mod.ts";
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
import {
  type DriftStretches,
  fitHarmonics,
  type HarmonicFit,
} from "./harmonic_fit.ts";
import { fundamentalOf } from "./harmonic_search.ts";
import type { Displacement } from "./measure_displacement.ts";
import { warnOfLostPhase, withoutFalseCertainty } from "./motion_model_fit.ts";

/**
 * Options of {@linkcode measureVibration}; those of `measureDisplacement` with a
 * capture only.
 */
export interface VibrationOptions extends OfCapture {
  /**
   * Frequency to start from, in Hz; `null` looks for the strongest line.
   *
   * @default {null}
   */
  frequency?: number | string | null;
  /**
   * Harmonics fitted, the fundamental included (1).
   *
   * @default {5}
   */
  harmonics?: number;
}

export const vibrationSpec = {
  frequency: optional(
    optionOf.frequency("Frequency to start from, in Hz."),
    null,
    "the strongest line",
  ),
  harmonics: optional(
    optionOf.whole("Harmonics fitted, the fundamental included (1).", {
      least: 1,
      most: 50,
    }),
    5,
  ),
} satisfies Record<Exclude<keyof VibrationOptions, keyof OfCapture>, Option>;

/** One harmonic of a vibration, A cos(2π h f t + φ). */
export interface Harmonic {
  /** Order h (1). */
  readonly order: number;
  /** Amplitude A (peak), in m. */
  readonly amplitude: Quantity;
  /** Phase φ at the first sample, in rad. */
  readonly phase: Quantity;
}

/** Vibration of the target. */
export interface Vibration extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "motion.vibration";
  /** Amplitude (peak) of the fundamental, in m. */
  readonly amplitude: Quantity;
  /** Frequency of the fundamental, in Hz. */
  readonly frequency: Quantity;
  /**
   * Phase of the fundamental's cosine at the first sample, in rad, in the signal as
   * recorded: what the amplifier is late by is in it.
   */
  readonly phase: Quantity;
  /** Largest speed of the fundamental, in m/s. */
  readonly velocityAmplitude: Quantity;
  /** Largest acceleration of the fundamental, in m/s². */
  readonly accelerationAmplitude: Quantity;
  /** Root of the harmonics' summed squares over the fundamental (1). */
  readonly totalHarmonicDistortion: Quantity;
  /** The harmonics, fundamental first. */
  readonly harmonics: readonly Harmonic[];
  /** Mean speed of the drift along the record, in m/s. */
  readonly drift: Quantity;
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
    /** Periods in the record (1). */
    readonly periods: number;
  };
}

/**
 * Measures a periodic vibration: frequency, amplitude and phase of the
 * fundamental and its harmonics, by least squares on the fringes themselves with
 * x(t) = d(t) + Σ_h (a_h cos 2πhft + b_h sin 2πhft), every sample on its own, at
 * the motion of the model, with the form of the fringe (C, α, levels) and what the
 * amplifier takes from fast fringes left free. The drift d is a straight line, or,
 * where that leaves more than the noise, parabolas of 16 or 4 periods each, or
 * polynomials of the fifth degree of 4. Where the phase is
 * doubtful and this leaves more than a tenth of the motion, the values have no
 * uncertainty (`NaN`) and the warning `not-determined`.
 *
 * @param measured Result of `measureDisplacement`, or a capture with the options
 * of that function.
 * @param options Frequency to start from, number of harmonics; with a capture
 * its `wavelength` too.
 * @returns Amplitudes in m, frequency in Hz, phases in rad, distortion.
 * @throws {NotMeasurableError} If the record holds less than one period.
 * @throws {TypeError} If an option does not exist or an argument is of another kind.
 * @throws {RangeError} If an option is out of range.
 *
 * Source: IEEE Std 1057 (sine fit of four and more parameters).
 *
 * @example
 * ```ts
 * import { measureVibration, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: (time) => 0.1 + 1e-6 * Math.cos(2 * Math.PI * 100 * time),
 *   samplingRate: 100e3,
 *   duration: 0.05,
 *   noise: { signalToNoiseRatio: 30 },
 *   drive: null,
 * });
 * const { amplitude, frequency } = measureVibration(capture, {
 *   wavelength: 650e-9,
 * });
 * expect(Math.abs(amplitude.value - 1e-6)).toBeLessThan(1e-9);
 * expect(Math.abs(frequency.value - 100)).toBeLessThan(0.1);
 * ```
 */
export function measureVibration(
  measured: Displacement | Capture,
  options: VibrationOptions = {},
): Vibration & Shown {
  const { displacement, options: { frequency, harmonics } } = readDisplacement(
    measured,
    options,
    vibrationSpec,
    "measure a vibration",
  );
  const { samplingRate } = displacement;
  const n = displacement.displacement.length;
  const start = fundamentalOf(
    displacement.displacement,
    samplingRate,
    frequency,
  );
  const periods = start * n / samplingRate;
  if (periods < 1) {
    throw new NotMeasurableError(
      "no period",
      `Cannot measure a vibration as the record holds only ${
        periods.toFixed(2)
      } of a period at ${start.toPrecision(3)} Hz: record longer`,
    );
  }
  const fit = withoutFalseCertainty(
    fitOverDrift(displacement, start, harmonics),
    displacement,
  );
  const { parameters, covariance } = fit;
  const f = parameters[0]!;
  const { wavelengthStandardUncertainty, wavelength } =
    displacement.diagnostics;
  const relative = wavelengthStandardUncertainty / wavelength;
  // Samples at the motion itself show what was misread in the displacement.
  const locked = fit.isOfSamples ? 0 : lockedUncertainty(displacement);
  const list: Harmonic[] = [];
  for (let h = 1; h <= harmonics; h++) {
    list.push(harmonicOf(h, parameters, covariance, relative, locked));
  }
  const fundamental = list[0]!;
  const a1 = fundamental.amplitude;
  // A phase that creeps by as much along the record tilts by sqrt(12)/T.
  const creep = Math.sqrt(12) * locked / a1.value /
    (2 * Math.PI * n / samplingRate);
  const uf = Math.hypot(Math.sqrt(covariance[0]![0]!), creep);
  const omega = 2 * Math.PI * f;
  const scaled = (factor: number, power: number, unit: string) =>
    quantity(
      a1.value * factor,
      factor * Math.hypot(
        a1.standardUncertainty,
        power * a1.value * uf / f,
      ),
      unit,
    );
  let squares = 0;
  let variance = 0;
  for (const { order, amplitude } of list) {
    if (order === 1) continue;
    squares += amplitude.value ** 2;
    variance += (amplitude.value * amplitude.standardUncertainty) ** 2;
  }
  const root = Math.sqrt(squares);
  const distortionUncertainty = root > 0
    ? Math.hypot(
      Math.sqrt(variance) / root,
      root * a1.standardUncertainty / a1.value,
    ) / a1.value
    : a1.standardUncertainty / a1.value;
  const warnings: Warning[] = [...displacement.warnings];
  if (!fit.determined) warnings.push(warnOfLostPhase(fit));
  if (!fit.converged) {
    warnings.push(warn(
      "not-converged",
      "The sine fit did not settle: give 'frequency'",
    ));
  }
  if (fit.excess > 1.3) {
    warnings.push(warn(
      "not-periodic",
      `The motion is more than ${harmonics} harmonics of ${
        f.toPrecision(4)
      } Hz: the fit leaves ${
        fit.excess.toFixed(1)
      } times the noise, and the uncertainties are widened by that`,
    ));
  }
  if (periods < 3) {
    warnings.push(warn(
      "few-periods",
      `The record holds only ${
        periods.toFixed(1)
      } periods, so that drift and vibration are hard to tell apart: record longer`,
      "note",
    ));
  }
  return createResult({
    kind: "motion.vibration" as const,
    amplitude: a1,
    frequency: quantity(f, uf, "Hz"),
    phase: fundamental.phase,
    velocityAmplitude: scaled(omega, 1, "m/s"),
    accelerationAmplitude: scaled(omega * omega, 2, "m/s²"),
    totalHarmonicDistortion: quantity(
      root / a1.value,
      distortionUncertainty,
      "1",
    ),
    harmonics: list,
    drift: quantity(fit.drift.value, fit.drift.uncertainty, "m/s"),
    warnings,
    provenance: provenance({
      method: "measureVibration",
      captures: displacement.provenance.captures,
      options: { frequency, harmonics },
      inputs: displacement.provenance.inputs,
      sources: ["IEEE Std 1057 (sine fit)"],
    }),
    diagnostics: {
      excess: fit.excess,
      unexplained: fit.unexplained,
      residualTimes: fit.residualTimes,
      residuals: fit.residuals,
      periods,
    },
  });
}

/** What is left over the noise, from which on a drift is looked for (1). */
const leastExcess = 1.02;
/** Excess of a looser drift over that of a stiffer one, where it is needed (1). */
const betterBy = 0.985;
/** Stretches of the polynomials that follow a drift, the stiffer first. */
const drifts: readonly DriftStretches[] = [
  { periods: 16, degree: 2 },
  { periods: 4, degree: 2 },
  { periods: 4, degree: 5 },
];

/** The harmonics over the stiffest drift that describes the record. */
function fitOverDrift(
  displacement: Displacement,
  frequency: number,
  harmonics: number,
): HarmonicFit {
  const { samplingRate, displacement: { length } } = displacement;
  const periods = frequency * length / samplingRate;
  let fit = fitHarmonics(displacement, {
    frequency,
    harmonics,
    stretches: null,
  });
  for (const stretches of drifts) {
    if (fit.excess < leastExcess || periods < 2 * stretches.periods) continue;
    const looser = fitHarmonics(displacement, {
      frequency,
      harmonics,
      stretches,
    });
    if (looser.excess < betterBy * fit.excess) fit = looser;
  }
  return fit;
}

/**
 * What doubtful samples may put into a harmonic, in m, where they come at the
 * same place of every period and so leave no trace in the residuals: a share s of
 * samples holds at most all of the noise σ, an rms of σ/sqrt(s), and moves the
 * mean by s times that.
 */
function lockedUncertainty({ diagnostics, displacement }: Displacement) {
  const { doubtfulSamples, relativeNoise, metresPerRadian } = diagnostics;
  const share = doubtfulSamples / displacement.length;
  return metresPerRadian * relativeNoise * Math.sqrt(share);
}

function harmonicOf(
  h: number,
  parameters: readonly number[],
  covariance: readonly (readonly number[])[],
  relative: number,
  locked: number,
): Harmonic {
  const i = 2 * h - 1;
  const a = parameters[i]!;
  const b = parameters[i + 1]!;
  const aa = covariance[i]![i]!;
  const bb = covariance[i + 1]![i + 1]!;
  const ab = covariance[i]![i + 1]!;
  const amplitude = Math.hypot(a, b);
  const along = Math.sqrt(
    Math.max(0, a * a * aa + 2 * a * b * ab + b * b * bb),
  ) / amplitude;
  const across = Math.sqrt(
    Math.max(0, b * b * aa - 2 * a * b * ab + a * a * bb),
  ) / amplitude;
  return {
    order: h,
    amplitude: quantity(
      amplitude,
      Math.hypot(along, amplitude * relative, locked),
      "m",
    ),
    phase: quantity(
      Math.atan2(-b, a),
      Math.hypot(across, locked) / amplitude,
      "rad",
    ),
  };
}
