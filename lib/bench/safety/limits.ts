import {
  benchOptions,
  optionOf,
  readOptions,
  requireNumber,
} from "../../options/mod.ts";
/**
 * Limits for the eye: continuous light, small source (C6 = 1), 7 mm pupil, as
 * in IEC 60825-1:2014 (edition 3) and ICNIRP 2013. The standard itself is not
 * free to read; the numbers here come from secondary tables and were checked
 * against each other.
 */

/** Diameter of the limiting aperture (the pupil), in m. */
export const pupilDiameter = 7e-3;

/** Area of the limiting aperture, in m². */
export const pupilArea = Math.PI / 4 * pupilDiameter ** 2;

const shortest = 400e-9;
const longest = 1050e-9;

/** Throws for wavelengths that these limits do not cover. */
export function checkWavelength(wavelength: number): void {
  if (!(wavelength >= shortest && wavelength <= longest)) {
    throw new RangeError(
      `Cannot estimate laser safety as 'wavelength' must lie from 400 to 1050 nm: current value is ${
        wavelength * 1e9
      } nm. Ask your laser safety officer`,
    );
  }
}

/** Whether the eye sees the light and blinks: 400 to 700 nm. */
export function isVisible(wavelength: number): boolean {
  return wavelength < 700e-9;
}

/** Correction factor C3 for blue light: 1 up to 450 nm, then 10^(0.02 (λ - 450 nm)). */
function blueFactor(wavelength: number): number {
  return 10 ** (0.02 * Math.max(0, wavelength * 1e9 - 450));
}

/** Correction factor C4: 10^(0.002 (λ - 700 nm)) from 700 to 1050 nm, 1 below. */
export function nearInfraredFactor(wavelength: number): number {
  return 10 ** (0.002 * Math.max(0, wavelength * 1e9 - 700));
}

export const limitSpec = {
  wavelength: benchOptions.wavelength,
  exposureTime: optionOf.time("Time of the exposure, in s.", "0.25s"),
};

/**
 * Largest exposure of the eye that is taken to be harmless (MPE), as mean
 * irradiance over the exposure time: 18 C4 t^0.75 J/m² up to 10 s, then
 * 10 C4 W/m²; for 400 to 600 nm above 10 s also at most 100 C3 J/m² (up to
 * 100 s) and then C3 W/m².
 *
 * @param options Wavelength in m, exposure time in s.
 * @returns Irradiance, in W/m².
 * @throws {RangeError} If the wavelength lies outside of 400 to 1050 nm or the
 * time outside of 5 µs to 30000 s.
 *
 * Source: IEC 60825-1:2014, annex A; ICNIRP 2013, Health Phys. 105, 271.
 *
 * @example
 * ```ts
 * import { exposureLimit } from "fringebook";
 * import { expect } from "vitest";
 *
 * const limit = exposureLimit({ wavelength: 650e-9, exposureTime: 0.25 });
 * expect(limit).toBeCloseTo(25.456, 3);
 * ```
 */
export function exposureLimit(
  options: { wavelength: number | string; exposureTime: number | string },
): number {
  const { wavelength, exposureTime } = readOptions(
    limitSpec,
    options,
    "give an exposure limit",
  );
  checkWavelength(wavelength);
  if (!(exposureTime >= 5e-6 && exposureTime <= 3e4)) {
    throw new RangeError(
      `Cannot give an exposure limit as 'exposureTime' must lie from 5 µs to 30000 s: current value is ${exposureTime} s`,
    );
  }
  const c4 = nearInfraredFactor(wavelength);
  const thermal = exposureTime <= 10
    ? 18 * c4 * exposureTime ** -0.25
    : 10 * c4;
  if (wavelength >= 600e-9 || exposureTime <= 10) return thermal;
  const blue = blueFactor(wavelength) * Math.max(1, 100 / exposureTime);
  return Math.min(thermal, blue);
}

/** Largest accessible powers of the laser classes, in W. */
export interface ClassLimits {
  /** Class 1 (and 1M without instruments). */
  readonly class1: number;
  /** Class 2 (and 2M); `null` where light is not visible: there is none. */
  readonly class2: number | null;
  /** Class 3R. */
  readonly class3R: number;
  /** Class 3B. */
  readonly class3B: number;
}

/**
 * Largest accessible powers (AEL) of the laser classes for continuous light of a
 * small source, time base 100 s.
 *
 * @param wavelength Vacuum wavelength, in m, 400 to 1050 nm.
 * @returns Limits in W.
 * @throws {RangeError} If the wavelength lies outside.
 *
 * Source: IEC 60825-1:2014, tables 3 to 8, by secondary tables.
 *
 * @example
 * ```ts
 * import { classLimits } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(classLimits(650e-9).class2).toBe(1e-3);
 * expect(classLimits(850e-9).class2).toBe(null);
 * ```
 */
export function classLimits(wavelength: number): ClassLimits {
  requireNumber(
    wavelength,
    "wavelength",
    "m",
    "give the limits of the classes",
  );
  checkWavelength(wavelength);
  const thermal = 3.9e-4 * nearInfraredFactor(wavelength);
  const blue = wavelength < 600e-9 ? 3.9e-5 * blueFactor(wavelength) : Infinity;
  const class1 = Math.min(thermal, blue);
  const visible = isVisible(wavelength);
  return {
    class1,
    class2: visible ? 1e-3 : null,
    class3R: visible ? 5e-3 : 5 * class1,
    class3B: 0.5,
  };
}
