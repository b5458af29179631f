/** A number with its unit and how sure it is (JCGM 100:2008). */
export interface Quantity {
  /** The estimate, in `unit`. */
  readonly value: number;
  /** Standard uncertainty, in `unit`; `NaN` where it is not determined. */
  readonly standardUncertainty: number;
  /** Effective degrees of freedom (1); `Infinity` where not limited. */
  readonly degreesOfFreedom: number;
  /** Coverage factor k of the expanded uncertainty (1). */
  readonly coverageFactor: number;
  /** U = k u, in `unit`. */
  readonly expandedUncertainty: number;
  /** SI unit symbol without prefix, such as `"m"`, `"Hz"`, `"m/A"`, `"1"`. */
  readonly unit: string;
}

/** Options of {@linkcode quantity}. */
export interface QuantityOptions {
  /**
   * Effective degrees of freedom (1).
   *
   * @default {Infinity}
   */
  degreesOfFreedom?: number;
  /**
   * Coverage factor k (1).
   *
   * @default {2}
   */
  coverageFactor?: number;
}

/**
 * Makes a {@linkcode Quantity}: the expanded uncertainty is U = k u
 * (JCGM 100:2008, 6.2.1).
 *
 * @param value The estimate, in `unit`.
 * @param standardUncertainty Standard uncertainty, in `unit`, not negative;
 * `NaN` where it is not determined.
 * @param unit SI unit symbol without prefix.
 * @param options Degrees of freedom and coverage factor.
 * @returns The quantity with all fields.
 * @throws {RangeError} If the standard uncertainty is negative.
 *
 * @example
 * ```ts
 * import { quantity } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(quantity(0.2, 0.001, "m").expandedUncertainty).toBe(0.002);
 * ```
 */
export function quantity(
  value: number,
  standardUncertainty: number,
  unit: string,
  options: QuantityOptions = {},
): Quantity {
  // Callers inside make thousands: two looks at the kind, no more.
  if (typeof value !== "number" || typeof standardUncertainty !== "number") {
    throw new TypeError(
      `Cannot make a quantity as value and standard uncertainty must be numbers: they are a ${typeof value} and a ${typeof standardUncertainty}`,
    );
  }
  if (typeof options !== "object" || options === null) {
    throw new TypeError(
      `Cannot make a quantity as the options must be an object such as { degreesOfFreedom: 9 }`,
    );
  }
  const { degreesOfFreedom = Infinity, coverageFactor = 2 } = options;
  if (standardUncertainty < 0) {
    throw new RangeError(
      `Cannot make a quantity as its standard uncertainty is negative: ${standardUncertainty} ${unit}`,
    );
  }
  return {
    value,
    standardUncertainty,
    degreesOfFreedom,
    coverageFactor,
    expandedUncertainty: coverageFactor * standardUncertainty,
    unit,
  };
}
