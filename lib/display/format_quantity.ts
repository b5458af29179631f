import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
} from "../options/mod.ts";
import { formatNumber, powerOfTen, withMinusSign } from "./format_number.ts";
import { decimalOrder, scaleByPowerOfTen, shownUnit } from "./si_prefix.ts";

/** What {@linkcode formatQuantity} reads; every `Quantity` has it. */
export interface FormattableQuantity {
  /** The estimate, in `unit`. */
  readonly value: number;
  /** Standard uncertainty u, in `unit`; `NaN` where not determined. */
  readonly standardUncertainty: number;
  /** SI unit symbol without prefix. */
  readonly unit: string;
  /** Coverage factor k (1). */
  readonly coverageFactor?: number;
}

/** Options of {@linkcode formatQuantity}. */
export interface FormatQuantityOptions {
  /**
   * `"brackets"`: `12.34(56) µm`, the standard uncertainty in the last digits;
   * `"plus-minus"`: `(12.3 ± 1.1) µm, k = 2`, the expanded uncertainty.
   *
   * @default {"brackets"}
   */
  form?: "brackets" | "plus-minus";
}

export const quantityFormSpec = {
  form: optional(
    optionOf.choice("How the uncertainty is written.", [
      "brackets",
      "plus-minus",
    ]),
    "brackets",
  ),
} satisfies Record<keyof FormatQuantityOptions, Option>;

/**
 * Writes a value and its uncertainty, both rounded to the same place by one
 * rule: the printed uncertainty keeps two significant digits. `"brackets"`
 * prints the standard uncertainty u, `"plus-minus"` the expanded uncertainty
 * U = k u with its k (JCGM 100:2008, 7.2.2 and 7.2.3; 7.2.6 for the two
 * digits). Where u crosses the decimal point the brackets show it:
 * `12.3(1.2)`.
 *
 * @param quantity Value and standard uncertainty, in `unit`.
 * @param options The form.
 * @returns One line of text.
 *
 * @example
 * ```ts
 * import { formatQuantity, quantity } from "fringebook";
 * import { expect } from "vitest";
 *
 * const distance = quantity(12.342e-6, 0.561e-6, "m");
 * expect(formatQuantity(distance)).toBe("12.34(56) µm");
 * expect(formatQuantity(distance, { form: "plus-minus" })).toBe(
 *   "(12.3 ± 1.1) µm, k = 2",
 * );
 * ```
 */
export function formatQuantity(
  quantity: FormattableQuantity,
  options: FormatQuantityOptions = {},
): string {
  const task = "write a quantity";
  requireFields(
    quantity,
    "quantity",
    ["value", "standardUncertainty", "unit"],
    task,
  );
  const { form } = readOptions(quantityFormSpec, options, task);
  const { value, standardUncertainty, unit, coverageFactor = 2 } = quantity;
  if (!Number.isFinite(value)) return formatNumber(value, { unit });
  const plusMinus = form === "plus-minus";
  const spread = plusMinus
    ? coverageFactor * standardUncertainty
    : standardUncertainty;
  const coverage = plusMinus
    ? `, k = ${formatNumber(Number(coverageFactor.toFixed(2)))}`
    : "";
  if (Number.isNaN(spread)) {
    return `${formatNumber(value, { unit })} (uncertainty not determined)`;
  }
  if (spread === 0) {
    return `${formatNumber(value, { unit, digits: 9 })} (exact)`;
  }
  if (spread === Infinity) {
    return `${formatNumber(value, { unit })} (uncertainty unlimited)`;
  }
  const largest = Math.max(Math.abs(value), spread);
  const shown = shownUnit(largest, unit);
  let exponent = shown.exponent;
  const order = (decimalOrder(largest) ?? 0) - exponent;
  const scientific = order < -3 || order > 5;
  if (scientific) exponent += order;

  const scaledSpread = scaleByPowerOfTen(spread, exponent);
  // The order after rounding to two digits: 0.0996 becomes 0.10.
  const place = (decimalOrder(Number(scaledSpread.toPrecision(2))) ?? 0) - 1;
  const unitText = (scientific ? ` ${powerOfTen(order)}` : "") +
    (shown.symbol === "" ? "" : ` ${shown.symbol}`);
  const scaledValue = scaleByPowerOfTen(value, exponent);
  if ((decimalOrder(largest) ?? 0) - exponent - place > 14) {
    // More digits than a double has: say the two numbers apart.
    const symbol = plusMinus ? "U" : "u";
    return `${formatNumber(value, { unit, digits: 15 })} (${symbol} = ${
      formatNumber(spread, { unit, digits: 2 })
    }${coverage})`;
  }
  const valueText = atPlace(scaledValue, place);
  const spreadText = atPlace(scaledSpread, place);
  if (plusMinus) {
    const pair = `${valueText} ± ${spreadText}`;
    return (unitText === "" ? pair : `(${pair})${unitText}`) + coverage;
  }
  const digits = Number(spreadText) < 1
    ? spreadText.replace(/^0\.0*/, "")
    : spreadText;
  return `${valueText}(${digits})${unitText}`;
}

/** Rounds to 10^place and writes just the digits that mean something. */
function atPlace(value: number, place: number): string {
  const text = place < 0
    ? value.toFixed(-place)
    : String(Math.round(value / 10 ** place) * 10 ** place);
  return withMinusSign(/^-0(\.0*)?$/.test(text) ? text.slice(1) : text);
}
