import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireNumber,
} from "../options/mod.ts";
import { decimalOrder, scaleByPowerOfTen, shownUnit } from "./si_prefix.ts";

/** Options of {@linkcode formatNumber}. */
export interface FormatNumberOptions {
  /**
   * SI unit symbol without prefix; `""` or `"1"` for a pure number.
   *
   * @default {""}
   */
  unit?: string;
  /**
   * Significant digits; zeros at the end of the decimals are dropped.
   *
   * @default {5}
   */
  digits?: number;
}

export const formatSpec = {
  unit: optional(
    optionOf.text("SI unit symbol without prefix.", "m"),
    "",
    "none, a pure number",
  ),
  digits: optional(
    optionOf.whole("Significant digits.", { least: 1, most: 21 }),
    5,
  ),
} satisfies Record<keyof FormatNumberOptions, Option>;

const superscripts: Readonly<Record<string, string>> = {
  "-": "⁻",
  "0": "⁰",
  "1": "¹",
  "2": "²",
  "3": "³",
  "4": "⁴",
  "5": "⁵",
  "6": "⁶",
  "7": "⁷",
  "8": "⁸",
  "9": "⁹",
};

/** `"× 10⁻⁶"` of −6. */
export function powerOfTen(exponent: number): string {
  return "× 10" +
    [...String(exponent)].map((digit) => superscripts[digit] ?? digit).join("");
}

/** ASCII hyphens before digits become the minus sign. */
export function withMinusSign(text: string): string {
  return text.replaceAll("-", "−");
}

/**
 * Writes a number that has no stated uncertainty, with the SI prefix that
 * people choose. Whole pure numbers below 10^15 are written in full.
 *
 * @param value Any number, in `unit`.
 * @param options Unit and digits.
 * @returns Text such as `"650 nm"`, `"12.346 mm"`, `"−∞"`, `"NaN"`.
 *
 * @example
 * ```ts
 * import { formatNumber } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(formatNumber(650e-9, { unit: "m" })).toBe("650 nm");
 * expect(formatNumber(1250000)).toBe("1250000");
 * expect(formatNumber(-1e300)).toBe("−1 × 10³⁰⁰");
 * ```
 */
export function formatNumber(
  value: number,
  options: FormatNumberOptions = {},
): string {
  const task = "write a number";
  requireNumber(value, "value", "1", task);
  const { unit, digits } = readOptions(formatSpec, options, task);
  const shown = shownUnit(value, unit);
  const suffix = shown.symbol === "" ? "" : ` ${shown.symbol}`;
  if (Number.isNaN(value)) return "NaN";
  if (!Number.isFinite(value)) return `${value < 0 ? "−" : ""}∞${suffix}`;
  if (value === 0) return `0${suffix}`;
  if (suffix === "" && Number.isInteger(value) && Math.abs(value) < 1e15) {
    return withMinusSign(String(value));
  }
  const scaled = scaleByPowerOfTen(value, shown.exponent);
  const order = decimalOrder(scaled) ?? 0;
  if (order >= -4 && order < Math.max(digits, 6)) {
    const rounded = Number(scaled.toPrecision(digits));
    const decimals = Math.max(0, digits - 1 - order);
    return withMinusSign(trimZeros(rounded.toFixed(decimals))) + suffix;
  }
  const [mantissa = "", exponent = ""] = scaled.toExponential(digits - 1)
    .split("e");
  return `${withMinusSign(trimZeros(mantissa))} ${
    powerOfTen(Number(exponent))
  }${suffix}`;
}

function trimZeros(text: string): string {
  return text.includes(".") ? text.replace(/\.?0+$/, "") : text;
}
