import { fitLine, type LineFit, predictLine } from "../fit/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
  requireRecords,
  requireResult,
} from "../options/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import type { TuningModel } from "./tuning.ts";
import { speedOfLight } from "./wavelength.ts";

/** A calibration of the tuning at one temperature of the diode. */
export interface TuningTemperaturePoint {
  /** Temperature of the diode's mount, in °C. */
  readonly temperature: number;
  /** Its standard uncertainty, in K; 0 where it is left out. */
  readonly temperatureStandardUncertainty?: number;
  /** The calibration at that temperature, or one taken from a record. */
  readonly calibration: TuningModel;
}

/** Options of {@linkcode tuningAtTemperature}. */
export interface TuningAtTemperatureOptions {
  /** Temperature of the diode's mount now, in °C. */
  temperature: number | string;
  /**
   * Its standard uncertainty, in K.
   *
   * @default {0}
   */
  temperatureStandardUncertainty?: number | string;
}

export const tuningAtTemperatureSpec = {
  temperature: optionOf.between(
    "Temperature of the diode's mount now, in °C.",
    -60,
    150,
    "°C",
    "23°C",
  ),
  temperatureStandardUncertainty: optional(
    optionOf.notNegative("Its standard uncertainty, in K.", "K", "0.3K"),
    0,
  ),
} satisfies Record<keyof TuningAtTemperatureOptions, Option>;

/** How the tuning goes with the temperature of the diode. */
export interface TuningTemperature extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "range.tuningTemperature";
  /** dλ/dI at the mean of the temperatures, in m/A, all parts included. */
  readonly tuning: Quantity;
  /** Mean of the temperatures, in °C. */
  readonly meanTemperature: number;
  /** Change of dλ/dI per temperature, in m/(A K). */
  readonly coefficient: Quantity;
  /** The same over the tuning, in 1/K. */
  readonly relativeCoefficient: Quantity;
  /** Range of the temperatures, in °C. */
  readonly temperatureRange: { readonly low: number; readonly high: number };
  /** Zero of the distances, the mean of the calibrations', in m. */
  readonly zeroOffset: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The calibrations in order of temperature. */
    readonly points: readonly Required<TuningTemperaturePoint>[];
    /**
     * Line of the steps per current and distance, in 1/(A m), against temperature
     * minus its mean, in K.
     */
    readonly line: LineFit;
  };
}

const task = "fit the tuning against temperature";

/**
 * Fits how the tuning of a diode goes with its temperature: a straight line
 * through calibrations at three or more temperatures, with errors in both axes.
 * What all calibrations share (ammeter, wavelength, air, scale of the distances)
 * cancels in the line and stays in the tuning. {@linkcode tuningAtTemperature}
 * gives the tuning at a temperature for `measureDistance`.
 *
 * Steps go by (dλ/dI)/λ². Where all calibrations state one wavelength, the
 * coefficient is that of this: for a diode whose wavelength grows by 0.05 nm/K,
 * 0.015 % per kelvin below that of dλ/dI alone. A distance needs no other.
 *
 * @param points At least 3 calibrations with their temperatures in °C.
 * @returns Temperature coefficient with its uncertainty.
 * @throws {RangeError} If there are fewer than 3, or all are at one temperature.
 *
 * Source: York et al. 2004 (line with errors in both axes).
 *
 * @example
 * ```ts
 * import { calibrateTuning, rampCurrent, simulateCapture } from "fringebook";
 * import { fitTuningTemperature, tuningAtTemperature } from "fringebook/range";
 * import { expect } from "vitest";
 *
 * // A diode of 8 pm/mA that tunes by 0.3 % less for each kelvin.
 * const points = [15, 25, 35].map((temperature) => ({
 *   temperature,
 *   calibration: calibrateTuning([0.1, 0.2].map((distance) => ({
 *     distance,
 *     standardUncertainty: 20e-6,
 *     capture: simulateCapture({
 *       distance,
 *       refractiveIndex: 1.00027,
 *       diode: { tuning: 8e-9 * (1 - 3e-3 * (temperature - 25)) },
 *       current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
 *       samplingRate: 10e3,
 *       duration: 0.3,
 *     }),
 *   })), { wavelength: 650e-9 }),
 * }));
 * const fit = fitTuningTemperature(points);
 * expect(fit.relativeCoefficient.value).toBeCloseTo(-3e-3, 4);
 * const { tuning } = tuningAtTemperature(fit, { temperature: "30°C" });
 * expect(tuning.value * 1e9).toBeCloseTo(8 * (1 - 0.015), 2);
 * ```
 */
export function fitTuningTemperature(
  points: readonly TuningTemperaturePoint[],
): TuningTemperature & Shown {
  requireRecords(points, "points", ["temperature", "calibration"], task);
  points.forEach(({ calibration }, k) =>
    requireFields(calibration, `points[${k}].calibration`, [
      "stepsPerCurrentAndDistance",
      "zeroOffset",
      "wavelength",
      "common",
    ], task)
  );
  const sorted = points.map((point) => ({
    temperatureStandardUncertainty: 0,
    ...point,
  })).sort((a, b) => a.temperature - b.temperature);
  const temperatures = sorted.map(({ temperature }) => temperature);
  if (sorted.length < 3 || !temperatures.every(Number.isFinite)) {
    throw new RangeError(
      `Cannot ${task} from ${sorted.length} calibrations at ${
        temperatures.join(", ")
      } °C: take at least 3 temperatures`,
    );
  }
  const [low, high] = [temperatures[0]!, temperatures.at(-1)!];
  if (!(high - low >= 1)) {
    throw new RangeError(
      `Cannot ${task} as all calibrations are at ${low} °C: take temperatures that lie 10 K apart and more`,
    );
  }
  const mean = temperatures.reduce((sum, each) => sum + each, 0) /
    sorted.length;
  const slopes = sorted.map(({ calibration }) =>
    calibration.stepsPerCurrentAndDistance
  );
  const line = fitLine(
    temperatures.map((each) => each - mean),
    slopes.map(({ value }) => value),
    {
      standardUncertaintiesX: sorted.map((each) =>
        each.temperatureStandardUncertainty
      ),
      standardUncertaintiesY: slopes.map(({ standardUncertainty }) =>
        standardUncertainty
      ),
      unitX: "K",
      unitY: "1/(A m)",
    },
  );
  const scattered = line.chiSquareProbability < 0.01;
  const factor = scattered
    ? Math.sqrt(line.chiSquare / line.degreesOfFreedom)
    : 1;
  const used = sorted[Math.floor(sorted.length / 2)]!.calibration;
  const perSlope = Math.sign(used.tuning.value) * used.wavelength.value ** 2 /
    (2 * used.refractiveIndex);
  const relativeCommon = commonOf(used);
  const middle = line.intercept.value;
  const uMiddle = factor * line.intercept.standardUncertainty;
  const uSlope = factor * line.slope.standardUncertainty;
  const relative = line.slope.value / middle;
  return createResult<TuningTemperature>({
    kind: "range.tuningTemperature",
    tuning: quantity(
      middle * perSlope,
      Math.abs(middle * perSlope) *
        Math.hypot(uMiddle / middle, relativeCommon),
      "m/A",
    ),
    meanTemperature: mean,
    coefficient: quantity(
      line.slope.value * perSlope,
      Math.abs(perSlope) *
        Math.hypot(uSlope, line.slope.value * relativeCommon),
      "m/(A K)",
    ),
    relativeCoefficient: quantity(
      relative,
      Math.hypot(uSlope / middle, relative * uMiddle / middle),
      "1/K",
    ),
    temperatureRange: { low, high },
    zeroOffset: meanZero(sorted.map(({ calibration }) => calibration)),
    warnings: warningsOf(sorted, line, scattered, factor),
    provenance: provenance({
      method: "fitTuningTemperature",
      options: {
        points: sorted.map(({ temperature, calibration }) => ({
          temperature,
          tuning: calibration.tuning.value,
        })),
      },
      sources: ["York et al. 2004, eqs. 13a-13d"],
    }),
    diagnostics: { points: sorted, line },
  });
}

/**
 * The tuning at a temperature, for `measureDistance`: on the line of
 * {@linkcode fitTuningTemperature}, with the uncertainty of the line there and of
 * the temperature.
 *
 * @param fit From `fitTuningTemperature`.
 * @param options Temperature in °C with its uncertainty in K.
 * @returns The tuning; it carries a warning beyond the calibrated temperatures.
 *
 * @example
 * ```ts
 * import { tuningAtTemperature } from "fringebook/range";
 * import { expect } from "vitest";
 *
 * expect(() => tuningAtTemperature(null as never, { temperature: 23 }))
 *   .toThrow("fitTuningTemperature");
 * ```
 */
export function tuningAtTemperature(
  fit: TuningTemperature,
  options: TuningAtTemperatureOptions,
): TuningModel {
  const task = "give the tuning at a temperature";
  requireResult(
    fit,
    "range.tuningTemperature",
    "the tuning against temperature",
    "fitTuningTemperature(points)",
    task,
  );
  const { temperature, temperatureStandardUncertainty } = readOptions(
    tuningAtTemperatureSpec,
    options,
    task,
  );
  const { line, points } = fit.diagnostics;
  const at = temperature - fit.meanTemperature;
  const slope = line.intercept.value + line.slope.value * at;
  const scattered = line.chiSquareProbability < 0.01;
  const factor = scattered
    ? Math.sqrt(line.chiSquare / line.degreesOfFreedom)
    : 1;
  const uSlope = Math.hypot(
    factor * predictLine(line, at).standardUncertainty,
    line.slope.value * temperatureStandardUncertainty,
  );
  const nearest =
    points.reduce((best, each) =>
      Math.abs(each.temperature - temperature) <
          Math.abs(best.temperature - temperature)
        ? each
        : best
    ).calibration;
  const zero = fit.zeroOffset;
  const sign = Math.sign(nearest.tuning.value);
  const perSlope = nearest.wavelength.value ** 2 /
    (2 * nearest.refractiveIndex);
  const relative = Math.hypot(uSlope / slope, commonOf(nearest));
  const { low, high } = fit.temperatureRange;
  const beyond = Math.max(low - temperature, temperature - high);
  const ranges = points.map(({ calibration }) => calibration.distanceRange);
  return {
    ...nearest,
    tuning: quantity(
      sign * slope * perSlope,
      Math.abs(slope) * perSlope * relative,
      "m/A",
    ),
    frequencyTuning: quantity(
      -sign * slope * speedOfLight / (2 * nearest.refractiveIndex),
      Math.abs(slope) * speedOfLight / (2 * nearest.refractiveIndex) * relative,
      "Hz/A",
    ),
    stepsPerCurrentAndDistance: quantity(slope, uSlope, "1/(A m)"),
    zeroOffset: zero,
    correlation: 0,
    // Intercept = -zero × slope, the two taken as independent.
    lineCovariance: [
      [
        (zero.value * uSlope) ** 2 + (slope * zero.standardUncertainty) ** 2,
        -zero.value * uSlope ** 2,
      ],
      [-zero.value * uSlope ** 2, uSlope ** 2],
    ],
    distanceRange: {
      low: Math.min(...ranges.map((each) => each.low)),
      high: Math.max(...ranges.map((each) => each.high)),
    },
    warnings: [
      ...points.flatMap(({ calibration }) => calibration.warnings)
        .filter(({ code }, k, all) =>
          all.findIndex((each) => each.code === code) === k
        ),
      ...fit.warnings.filter(({ severity }) => severity === "doubtful"),
      ...(beyond > 0
        ? [warn(
          "outside-temperature",
          `The diode is at ${temperature} °C, ${
            inDigits(beyond, 2)
          } K beyond the calibrated ${low} to ${high} °C: a mode hop may lie there. Calibrate at this temperature`,
        )]
        : []),
    ],
  };
}

/** Relative standard uncertainty of what all calibrations share (1). */
function commonOf({ common }: TuningModel): number {
  return Math.hypot(
    common.currentScale,
    common.currentConversion ?? 0,
    common.distanceScale,
    2 * common.wavelength,
  );
}

/** Mean of the zeros of the distances, weighted. */
function meanZero(calibrations: readonly TuningModel[]): Quantity {
  let [sum, weights] = [0, 0];
  for (const { zeroOffset } of calibrations) {
    const weight = 1 / Math.max(zeroOffset.standardUncertainty, 1e-12) ** 2;
    sum += weight * zeroOffset.value;
    weights += weight;
  }
  return quantity(sum / weights, 1 / Math.sqrt(weights), "m");
}

function warningsOf(
  points: readonly TuningTemperaturePoint[],
  line: LineFit,
  scattered: boolean,
  factor: number,
): Warning[] {
  const warnings: Warning[] = [];
  if (scattered) {
    warnings.push(warn(
      "not-straight",
      `The tunings scatter ${
        inDigits(factor, 2)
      } times as much about a straight line as their uncertainties allow: the uncertainties are widened. Look for a mode hop between the temperatures`,
    ));
  }
  const first = points[0]!.calibration;
  for (const { temperature, calibration } of points) {
    const difference = calibration.zeroOffset.value - first.zeroOffset.value;
    const u = Math.hypot(
      calibration.zeroOffset.standardUncertainty,
      first.zeroOffset.standardUncertainty,
    );
    if (Math.abs(difference) > 3 * u && u > 0) {
      warnings.push(warn(
        "zero-moved",
        `The zero of the distances at ${temperature} °C differs by ${
          inDigits(1e3 * difference, 2)
        } mm from the first: look whether diode or scale were moved`,
      ));
    }
    if (
      Math.abs(
        calibration.modulationFrequency / first.modulationFrequency - 1,
      ) > 0.02
    ) {
      warnings.push(warn(
        "modulation-frequencies-differ",
        `The ramps at ${temperature} °C have another frequency than the first: tuning depends on it, so calibrate at one`,
      ));
    }
  }
  if (
    Math.abs(line.slope.value) < 2 * line.slope.standardUncertainty
  ) {
    warnings.push(warn(
      "no-coefficient",
      "The tuning does not change with the temperature beyond its uncertainty: take temperatures that lie farther apart",
      "note",
    ));
  }
  return warnings;
}
