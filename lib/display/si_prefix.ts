import { requireNumber, requireText } from "../options/mod.ts";
/** A unit as people read it, and how many SI units one of it is. */
export interface ShownUnit {
  /** Symbol, such as `"µm"`, `"nm/mA"`; empty for a pure number. */
  readonly symbol: string;
  /**
   * Power of ten: 1 of `symbol` is 10^exponent of the SI unit without prefix.
   */
  readonly exponent: number;
}

const prefixes: readonly ShownUnit[] = [
  { symbol: "a", exponent: -18 },
  { symbol: "f", exponent: -15 },
  { symbol: "p", exponent: -12 },
  { symbol: "n", exponent: -9 },
  { symbol: "µ", exponent: -6 },
  { symbol: "m", exponent: -3 },
  { symbol: "", exponent: 0 },
  { symbol: "k", exponent: 3 },
  { symbol: "M", exponent: 6 },
  { symbol: "G", exponent: 9 },
  { symbol: "T", exponent: 12 },
];

/** Symbols that take every prefix, and those that take only the small ones. */
const prefixable = new Set(["m", "Hz", "A", "V", "W", "Ω", "Pa", "J", "F"]);
const smallOnly = new Set(["s", "K", "rad"]);

/** Quotients that the trade writes with fixed prefixes. */
const customary: Readonly<Record<string, ShownUnit>> = {
  "m/A": { symbol: "nm/mA", exponent: -6 },
  "Hz/A": { symbol: "GHz/mA", exponent: 12 },
  "W/A": { symbol: "mW/mA", exponent: 0 },
  "1/A": { symbol: "1/mA", exponent: 3 },
  "m/K": { symbol: "nm/K", exponent: -9 },
  "Hz/K": { symbol: "GHz/K", exponent: 9 },
  "1": { symbol: "", exponent: 0 },
};

/**
 * Chooses the unit in which a number is shown: prefixes in steps of a thousand
 * for single units and for the numerator of a quotient, tuning
 * coefficients in `nm/mA` and `GHz/mA`, no prefix for other units. The prefixes are
 * those of the SI Brochure (9th ed., table 7), from atto to tera.
 *
 * @param magnitude The number to show, in `unit`; its sign does not matter.
 * @param unit SI unit symbol without prefix.
 * @returns The symbol and its power of ten; the unit itself where no prefix
 * fits.
 *
 * @example
 * ```ts
 * import { shownUnit } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(shownUnit(3.2e-7, "m")).toEqual({ symbol: "nm", exponent: -9 });
 * expect(shownUnit(-1e-6, "m/A").symbol).toBe("nm/mA");
 * ```
 */
export function shownUnit(magnitude: number, unit: string): ShownUnit {
  const task = "choose a unit to show";
  requireNumber(magnitude, "magnitude", "1", task);
  requireText(unit, "unit", task);
  const fixed = customary[unit];
  if (fixed !== undefined) return fixed;
  const [numerator = "", ...denominators] = unit === "V/A"
    ? ["Ω"]
    : unit.split("/");
  const everyPrefix = prefixable.has(numerator);
  if (!everyPrefix && !smallOnly.has(numerator)) {
    return { symbol: unit, exponent: 0 };
  }
  const order = decimalOrder(magnitude);
  if (order === null) return { symbol: unit, exponent: 0 };
  const exponent = Math.min(3 * Math.floor(order / 3), everyPrefix ? 12 : 0);
  const prefix = prefixes.find((candidate) => candidate.exponent === exponent);
  if (prefix === undefined || order > exponent + 5) {
    return { symbol: unit, exponent: 0 };
  }
  const symbol = [prefix.symbol + numerator, ...denominators].join("/");
  return { symbol, exponent };
}

/**
 * The power of ten of the first digit: 12.3 has order 1, 0.05 has order −2.
 * Exact also for the smallest numbers, where a logarithm is not.
 *
 * @param value Any number.
 * @returns The order, or `null` for zero, NaN and infinities.
 */
export function decimalOrder(value: number): number | null {
  if (value === 0 || !Number.isFinite(value)) return null;
  return Number(value.toExponential().split("e")[1]);
}

/**
 * `value / 10^exponent`, without overflow or loss at the ends of the range.
 *
 * @param value Any number.
 * @param exponent Power of ten.
 * @returns The scaled number.
 */
export function scaleByPowerOfTen(value: number, exponent: number): number {
  if (value === 0 || !Number.isFinite(value)) return value;
  const [mantissa = "0", order = "0"] = value.toExponential().split("e");
  return Number(`${mantissa}e${Number(order) - exponent}`);
}
