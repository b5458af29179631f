import {
  benchOptions,
  type Option,
  readOptions,
  requireNumber,
} from "../options/mod.ts";
/** How the beam meets the moving surface. */
export interface DopplerGeometry {
  /** Vacuum wavelength, in m. */
  wavelength: number | string;
  /**
   * Angle between the beam and the velocity, in rad: 0 along the beam, π/2
   * across it.
   *
   * @default {0}
   */
  angle?: number | string;
  /**
   * Phase index of the air (1).
   *
   * @default {1.00027, the air of a room}
   */
  refractiveIndex?: number | string;
}

/** The options of {@linkcode DopplerGeometry}. */
export const geometrySpec = {
  wavelength: benchOptions.wavelength,
  angle: benchOptions.angle,
  refractiveIndex: benchOptions.refractiveIndex,
} satisfies Record<keyof DopplerGeometry, Option>;

/**
 * Doppler frequency of a moving surface seen by the diode that lights it:
 * f = 2 n v cos θ / λ. One fringe is half a wavelength.
 *
 * Source: Shinohara et al. 1986, Appl. Opt. 25, 1417.
 *
 * @param speed Speed of the surface v, in m/s; its sign is kept.
 * @param geometry Wavelength in m, angle in rad, index of the air.
 * @returns The Doppler frequency in Hz.
 * @throws {RangeError} If the wavelength or the index is not positive, or a
 * number is not finite.
 *
 * @example 1 mm/s along the beam at 650 nm
 * ```ts
 * import { dopplerFrequency } from "fringebook";
 * import { expect } from "vitest";
 *
 * // 2 × 1.00027 × 1 mm/s / 650 nm
 * expect(dopplerFrequency(1e-3, { wavelength: 650e-9 })).toBeCloseTo(3077.754, 3);
 * ```
 */
export function dopplerFrequency(
  speed: number,
  geometry: DopplerGeometry,
): number {
  const task = "give a Doppler frequency";
  requireFinite(speed, "speed", "m/s", task);
  return speed * dopplerSensitivity(readOptions(geometrySpec, geometry, task));
}

/**
 * Speed of a surface from its Doppler frequency: v = f λ / (2 n cos θ).
 *
 * @param frequency Doppler frequency f, in Hz; its sign is kept.
 * @param geometry Wavelength in m, angle in rad, index of the air.
 * @returns The speed in m/s.
 * @throws {RangeError} If the beam stands at a right angle to the motion, the
 * wavelength or the index is not positive, or a number is not finite.
 *
 * @example
 * ```ts
 * import { speedFromDoppler } from "fringebook";
 * import { expect } from "vitest";
 *
 * const speed = speedFromDoppler(3077.754, { wavelength: 650e-9 });
 * expect(speed).toBeCloseTo(1e-3, 9);
 * ```
 */
export function speedFromDoppler(
  frequency: number,
  geometry: DopplerGeometry,
): number {
  const task = "give a speed";
  requireFinite(frequency, "frequency", "Hz", task);
  const read = readOptions(geometrySpec, geometry, task);
  requireOblique(read.angle, task);
  return frequency / dopplerSensitivity(read);
}

/** Frequency per speed, 2 n cos θ / λ, in Hz/(m/s). */
export function dopplerSensitivity(
  { wavelength, angle, refractiveIndex }: {
    wavelength: number;
    angle: number;
    refractiveIndex: number;
  },
): number {
  return 2 * refractiveIndex * Math.cos(angle) / wavelength;
}

function requireFinite(
  value: number,
  name: string,
  unit: string,
  task: string,
): void {
  requireNumber(value, name, unit, task);
  if (Number.isFinite(value)) return;
  throw new RangeError(
    `Cannot ${task} as '${name}' must be a finite number of ${unit}: current value is ${value}`,
  );
}

/** Throws where the beam stands at a right angle to the motion. */
export function requireOblique(angle: number, task: string): void {
  if (Math.abs(Math.cos(angle)) < 1e-6) {
    throw new RangeError(
      `Cannot ${task} as the beam stands at a right angle to the motion (${angle} rad), where there is no Doppler shift: tilt it and give the angle`,
    );
  }
}
