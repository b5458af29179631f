import {
  benchOptions,
  inputsOf,
  type Option,
  type ReadOptions,
} from "../options/mod.ts";
import type { Quantity, ResultInput } from "../result/mod.ts";
import {
  propagateUncertainty,
  uncertainInput,
  type UncertaintyBudget,
} from "../uncertainty/mod.ts";
import { requireOblique } from "./doppler.ts";

/** What a speed is made from, with how sure each number is. */
export interface SpeedInputs {
  /** Vacuum wavelength of the diode, in m, or a text such as `"650nm"`. */
  wavelength: number | string;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number | string;
  /**
   * Angle between the beam and the velocity, in rad, or a text such as `"78deg"`:
   * 0 along the beam, π/2 across it.
   *
   * @default {0, the speed along the beam}
   */
  angle?: number | string;
  /**
   * Standard uncertainty of the angle, in rad.
   *
   * @default {0}
   */
  angleStandardUncertainty?: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
  /**
   * Standard uncertainty of the index (1).
   *
   * @default {0}
   */
  refractiveIndexStandardUncertainty?: number | string;
  /**
   * Relative standard uncertainty of the digitiser's clock (1); ± 50 parts in a
   * million taken as rectangular is common practice, no source.
   *
   * @default {3e-5}
   */
  clockRelativeStandardUncertainty?: number | string;
}

/** The options of {@linkcode SpeedInputs}. */
export const speedInputSpec = {
  wavelength: benchOptions.wavelength,
  wavelengthStandardUncertainty: benchOptions.wavelengthStandardUncertainty,
  angle: benchOptions.angle,
  angleStandardUncertainty: benchOptions.angleStandardUncertainty,
  refractiveIndex: benchOptions.refractiveIndex,
  refractiveIndexStandardUncertainty:
    benchOptions.refractiveIndexStandardUncertainty,
  clockRelativeStandardUncertainty:
    benchOptions.clockRelativeStandardUncertainty,
} satisfies Record<keyof SpeedInputs, Option>;

/** {@linkcode SpeedInputs} as read: SI numbers, defaults filled in. */
export type ReadSpeedInputs = ReadOptions<typeof speedInputSpec>;

/** What a speed rests on beside its samples. */
export function speedInputs(
  given: SpeedInputs,
  read: ReadSpeedInputs,
): ResultInput[] {
  return inputsOf(speedInputSpec, given, read, [
    "wavelength",
    "angle",
    "refractiveIndex",
  ]);
}

/**
 * Speed from a Doppler frequency, v = f λ / (2 n cos θ), with its budget
 * (JCGM 100:2008, eq. 10): ∂v/∂θ = v tan θ; the clock is a factor of 1.
 *
 * @param frequency Doppler frequency with its uncertainty, in Hz.
 * @param inputs Wavelength, angle, index, clock.
 * @param task What is done, for the messages.
 * @returns Speed in m/s and the rows of its budget.
 * @throws {RangeError} If the beam stands across the motion or an uncertainty is
 * negative.
 */
export function speedWithBudget(
  frequency: Quantity,
  inputs: ReadSpeedInputs,
  task: string,
): { speed: Quantity; budget: UncertaintyBudget } {
  const {
    wavelength,
    wavelengthStandardUncertainty,
    angle,
    angleStandardUncertainty,
    refractiveIndex,
    refractiveIndexStandardUncertainty,
    clockRelativeStandardUncertainty,
  } = inputs;
  requireOblique(angle, task);
  const budget = propagateUncertainty(
    (values) =>
      values["Doppler frequency"]! * values["clock"]! * values["wavelength"]! /
      Math.abs(2 * values["refractive index"]! * Math.cos(values["angle"]!)),
    [
      uncertainInput("Doppler frequency", frequency.value, {
        standardUncertainty: frequency.standardUncertainty,
        degreesOfFreedom: frequency.degreesOfFreedom,
        unit: "Hz",
      }),
      uncertainInput("wavelength", wavelength, {
        standardUncertainty: wavelengthStandardUncertainty,
        unit: "m",
      }),
      uncertainInput("angle", angle, {
        standardUncertainty: angleStandardUncertainty,
        unit: "rad",
      }),
      uncertainInput("refractive index", refractiveIndex, {
        standardUncertainty: refractiveIndexStandardUncertainty,
      }),
      uncertainInput("clock", 1, {
        standardUncertainty: clockRelativeStandardUncertainty,
      }),
    ],
    { unit: "m/s" },
  );
  return { speed: budget.output, budget };
}
