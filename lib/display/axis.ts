import { scaleByPowerOfTen, shownUnit } from "./si_prefix.ts";

/** A quantity along an axis, in the unit that people read. */
export interface ShownAxis {
  /** Title with the unit, such as `"Time (ms)"`. */
  readonly title: string;
  /** Unit symbol, such as `"ms"`; empty for a pure number. */
  readonly unit: string;
  /** Turns a number in the SI unit into one in `unit`, short for JSON. */
  readonly scale: (value: number) => number | null;
}

/**
 * Chooses prefix and title of an axis from the numbers along it.
 *
 * @param name What is drawn, such as `"Time"`.
 * @param values Numbers along the axis, in `unit`.
 * @param unit SI unit symbol without prefix; `"1"` for a pure number.
 * @returns Title, unit and scale.
 *
 * @example
 * ```ts
 * import { shownAxis } from "fringebook";
 * import { expect } from "vitest";
 *
 * const axis = shownAxis("Time", [0, 0.012], "s");
 * expect(axis.title).toBe("Time (ms)");
 * expect(axis.scale(0.012)).toBe(12);
 * ```
 */
export function shownAxis(
  name: string,
  values: ArrayLike<number>,
  unit: string,
): ShownAxis {
  let largest = 0;
  for (let k = 0; k < values.length; k++) {
    const size = Math.abs(values[k]!);
    if (size > largest && size < Infinity) largest = size;
  }
  const shown = shownUnit(largest, unit);
  return {
    title: shown.symbol === "" ? name : `${name} (${shown.symbol})`,
    unit: shown.symbol,
    scale: (value) => shortNumber(scaleByPowerOfTen(value, shown.exponent)),
  };
}

/** Six significant digits; `null` (a gap) for what JSON has no number for. */
export function shortNumber(value: number): number | null {
  return Number.isFinite(value) ? Number(value.toPrecision(6)) : null;
}
