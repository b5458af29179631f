import { airRefractiveIndex } from "../options/mod.ts";
import type { Quantity } from "../result/mod.ts";
import {
  propagateUncertainty,
  uncertainInput,
  type UncertaintyBudget,
} from "../uncertainty/mod.ts";
import { dopplerSensitivity, requireOblique } from "./doppler.ts";

/** What a speed is made from, with how sure each number is. */
export interface SpeedInputs {
  /** Vacuum wavelength of the diode, in m. */
  wavelength: number;
  /**
   * Standard uncertainty of the wavelength, in m.
   *
   * @default {0}
   */
  wavelengthStandardUncertainty?: number;
  /**
   * Angle between beam and velocity, in rad: 0 along the beam, π/2 across it.
   * With the default the speed is the one along the beam.
   *
   * @default {0}
   */
  angle?: number;
  /**
   * Standard uncertainty of the angle, in rad.
   *
   * @default {0}
   */
  angleStandardUncertainty?: number;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number;
  /**
   * Standard uncertainty of the index (1).
   *
   * @default {0}
   */
  refractiveIndexStandardUncertainty?: number;
  /**
   * Relative standard uncertainty of the digitiser's clock (1); ± 50 parts in a
   * million taken as rectangular is common practice, no source.
   *
   * @default {3e-5}
   */
  clockRelativeStandardUncertainty?: number;
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
  inputs: SpeedInputs,
  task: string,
): { speed: Quantity; budget: UncertaintyBudget } {
  const {
    wavelength,
    wavelengthStandardUncertainty = 0,
    angle = 0,
    angleStandardUncertainty = 0,
    refractiveIndex = airRefractiveIndex,
    refractiveIndexStandardUncertainty = 0,
    clockRelativeStandardUncertainty = 3e-5,
  } = inputs;
  for (
    const [name, value] of Object.entries({
      wavelengthStandardUncertainty,
      angleStandardUncertainty,
      refractiveIndexStandardUncertainty,
      clockRelativeStandardUncertainty,
    })
  ) {
    if (!(value >= 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot ${task} as '${name}' must be a finite number, not negative: current value is ${value}`,
      );
    }
  }
  dopplerSensitivity(
    { wavelength, angle, refractiveIndex },
    task,
  );
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
