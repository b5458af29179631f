import { fitLine, type LineFit, predictLine } from "../../fit/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireRecords,
} from "../../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
} from "../../result/mod.ts";

/** A threshold at one temperature. */
export interface ThresholdAtTemperature {
  /** Temperature of the mount, in K. */
  readonly temperature: Quantity;
  /** Threshold there, in A. */
  readonly thresholdCurrent: Quantity;
}

/** Options of {@linkcode fitCharacteristicTemperature}. */
export interface CharacteristicTemperatureOptions {
  /**
   * Relative standard uncertainty that all thresholds share, such as that of
   * the ammeter's scale (1). It is part of their uncertainties but moves them
   * together, so that T0 does not feel it.
   *
   * @default {0.005}
   */
  commonRelativeStandardUncertainty?: number | string;
}

export const temperatureSpec = {
  commonRelativeStandardUncertainty: optional(
    optionOf.relative(
      "Relative standard uncertainty that all thresholds share (1).",
    ),
    0.005,
  ),
} satisfies Record<keyof CharacteristicTemperatureOptions, Option>;

/** How the threshold rises with temperature. */
export interface CharacteristicTemperature extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.characteristicTemperature";
  /** T0 of I_th = I_0 exp(T/T0), in K. */
  readonly characteristicTemperature: Quantity;
  /** Relative rise of the threshold for each kelvin, 1/T0, in 1/K. */
  readonly risePerKelvin: Quantity;
  /** Threshold at 298.15 K (25 °C), in A. */
  readonly thresholdAtRoom: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Line of ln(I_th/A) over T/K. */
    readonly line: LineFit;
  };
}

/**
 * Fits the characteristic temperature T0 of I_th = I_0 exp(T/T0): a line of
 * ln I_th over T with uncertainties in both.
 *
 * @param points At least three thresholds at different temperatures.
 * @param options What the uncertainties of the thresholds have in common.
 * @returns T0 and the threshold at 25 °C.
 * @throws {RangeError} If there are fewer than three points, or a threshold or a
 * temperature is not positive.
 *
 * Source: Pankove 1968 (from memory).
 *
 * @example
 * ```ts
 * import { fitCharacteristicTemperature, quantity } from "fringebook";
 * import { expect } from "vitest";
 *
 * const points = [288.15, 298.15, 308.15].map((kelvin) => ({
 *   temperature: quantity(kelvin, 0.3, "K"),
 *   thresholdCurrent: quantity(
 *     0.024 * Math.exp((kelvin - 298.15) / 100),
 *     1e-5,
 *     "A",
 *   ),
 * }));
 * const fit = fitCharacteristicTemperature(points);
 * expect(fit.characteristicTemperature.value).toBeCloseTo(100, 6);
 * expect(fit.thresholdAtRoom.value).toBeCloseTo(0.024, 9);
 * ```
 */
export function fitCharacteristicTemperature(
  points: readonly ThresholdAtTemperature[],
  options: CharacteristicTemperatureOptions = {},
): CharacteristicTemperature & Shown {
  const task = "fit a characteristic temperature";
  requireRecords(points, "points", ["temperature", "thresholdCurrent"], task);
  const { commonRelativeStandardUncertainty } = readOptions(
    temperatureSpec,
    options,
    task,
  );
  if (points.length < 3) {
    throw new RangeError(
      `Cannot fit a characteristic temperature as there are ${points.length} thresholds: measure at three temperatures or more`,
    );
  }
  for (const { temperature, thresholdCurrent } of points) {
    if (!(temperature.value > 0 && thresholdCurrent.value > 0)) {
      throw new RangeError(
        `Cannot fit a characteristic temperature as temperatures (K) and thresholds (A) must be positive: current values are ${temperature.value} K, ${thresholdCurrent.value} A`,
      );
    }
  }
  const reference = 298.15;
  const line = fitLine(
    points.map(({ temperature }) => temperature.value - reference),
    points.map(({ thresholdCurrent }) => Math.log(thresholdCurrent.value)),
    {
      standardUncertaintiesX: points.map(({ temperature }) =>
        temperature.standardUncertainty
      ),
      standardUncertaintiesY: points.map(({ thresholdCurrent }) =>
        ownUncertainty(thresholdCurrent, commonRelativeStandardUncertainty)
      ),
      unitX: "K",
    },
  );
  const { value, standardUncertainty, degreesOfFreedom } = line.slope;
  const room = predictLine(line, 0);
  const threshold = Math.exp(room.value);
  return createResult<CharacteristicTemperature>({
    kind: "bench.characteristicTemperature",
    characteristicTemperature: quantity(
      1 / value,
      standardUncertainty / value ** 2,
      "K",
      { degreesOfFreedom },
    ),
    risePerKelvin: quantity(value, standardUncertainty, "1/K", {
      degreesOfFreedom,
    }),
    thresholdAtRoom: quantity(
      threshold,
      threshold *
        Math.hypot(room.standardUncertainty, commonRelativeStandardUncertainty),
      "A",
      { degreesOfFreedom },
    ),
    warnings: [
      ...line.warnings,
      ...(value > 0 ? [] : [warn(
        "threshold-falls",
        "The threshold does not rise with temperature: check that the mount's temperature is the diode's, and wait longer at each",
      )]),
      ...(line.chiSquareProbability < 0.01
        ? [warn(
          "not-exponential",
          `The thresholds scatter more about the exponential than their uncertainties say (probability ${
            line.chiSquareProbability.toPrecision(1)
          }): was the temperature settled?`,
        )]
        : []),
    ],
    provenance: provenance({
      method: "fitCharacteristicTemperature",
      options: { commonRelativeStandardUncertainty },
      sources: ["Pankove 1968 (from memory)", "York et al. 2004"],
    }),
    diagnostics: { line },
  });
}

/** Relative uncertainty without the common part; at least a tenth of it. */
function ownUncertainty(threshold: Quantity, common: number): number {
  const relative = threshold.standardUncertainty / threshold.value;
  const own = Math.sqrt(Math.max(0, relative ** 2 - common ** 2));
  return Math.max(own, relative / 10);
}
