import { benchOptions, readOptions } from "../options/mod.ts";
/** Speed of light in vacuum, in m/s (exact, SI). */
export const speedOfLight = 299792458;

/**
 * Distance that makes one step on a ramp: λ²/(2nΔλ) = c/(2nΔν). A whole-step
 * counter is no better than this; its rms error is a √12th of it.
 *
 * @param wavelength Vacuum wavelength in the middle of the ramp, in m.
 * @param wavelengthChange Change of the wavelength over the ramp, in m.
 * @param options Phase index of the air (1.00027 where not given).
 * @returns The distance, in m.
 * @throws {RangeError} If a number is not positive.
 *
 * Source: Gouaux, Servagent & Bosch 1998 (from memory); Beheim & Fritsch 1986.
 *
 * @example
 * ```ts
 * import { distancePerStep } from "fringebook";
 * import { expect } from "vitest";
 *
 * // (650 nm)² / (2 × 1.00027 × 0.02 nm)
 * expect(distancePerStep(650e-9, 0.02e-9)).toBeCloseTo(10.55965e-3, 8);
 * ```
 */
export function distancePerStep(
  wavelength: number,
  wavelengthChange: number,
  options: { refractiveIndex?: number | string } = {},
): number {
  const { refractiveIndex } = readOptions(
    { refractiveIndex: benchOptions.refractiveIndex },
    options,
    "compute the distance per step",
  );
  for (
    const [name, value] of [
      ["wavelength", wavelength],
      ["wavelengthChange", wavelengthChange],
      ["refractiveIndex", refractiveIndex],
    ] as const
  ) {
    if (!(value > 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot compute the distance per step as '${name}' must be positive: current value is ${value}`,
      );
    }
  }
  return wavelength ** 2 / (2 * refractiveIndex * wavelengthChange);
}
