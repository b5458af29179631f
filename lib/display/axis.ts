import { requireNumbers, requireText } from "../options/mod.ts";
import { decimalOrder, scaleByPowerOfTen, shownUnit } from "./si_prefix.ts";

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
 * @param kind A logarithmic axis of more than two decades keeps the unit
 * without prefix.
 * @returns Title, unit and scale.
 *
 * @example
 * ```ts
 * import { shownAxis } from "fringebook/display";
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
  kind: "linear" | "logarithmic" = "linear",
): ShownAxis {
  const task = "make an axis";
  requireText(name, "name", task);
  requireNumbers(values, "values", task);
  requireText(unit, "unit", task);
  if (kind === "logarithmic" && !isNarrow(values)) {
    return {
      title: unit === "1" || unit === "" ? name : `${name} (${unit})`,
      unit: unit === "1" ? "" : unit,
      scale: (value) =>
        value > 0 && value < Infinity ? Number(value.toPrecision(5)) : null,
    };
  }
  const [low, high] = extremes([values]);
  const largest = high < low ? 0 : Math.max(Math.abs(low), Math.abs(high));
  const shown = shownUnit(largest, unit);
  const span = high > low ? high - low : largest;
  // A hundred-thousandth of the span: finer than any screen, short in JSON.
  const order = decimalOrder(scaleByPowerOfTen(span, shown.exponent)) ?? 0;
  const decimals = Math.min(100, Math.max(0, 5 - order));
  const factor = 10 ** -shown.exponent;
  return {
    title: shown.symbol === "" ? name : `${name} (${shown.symbol})`,
    unit: shown.symbol,
    scale: (value) => {
      if (!Number.isFinite(value)) return null;
      if (kind === "logarithmic") {
        return value > 0 ? Number((value * factor).toPrecision(5)) : null;
      }
      return Number((value * factor).toFixed(decimals));
    },
  };
}

/** Whether positive numbers lie within two powers of ten. */
function isNarrow(values: ArrayLike<number>): boolean {
  const positive = Array.from(values).filter((value) => value > 0);
  const [low, high] = extremes([positive]);
  return low <= high && high / low <= 100;
}

/**
 * Axis of a recorded signal: where its unit was never stated, as in a sound file,
 * the title says so.
 *
 * @param name What is drawn, such as `"Monitor signal"`.
 * @param values The signal, in `unit`.
 * @param unit SI unit symbol without prefix; `"1"` where none was stated.
 * @returns Title, unit and scale.
 *
 * @example
 * ```ts
 * import { signalAxis } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(signalAxis("Signal", [0.2], "V").title).toBe("Signal (mV)");
 * expect(signalAxis("Signal", [0.2], "1").title).toBe("Signal (no unit)");
 * ```
 */
export function signalAxis(
  name: string,
  values: ArrayLike<number>,
  unit: string,
): ShownAxis {
  const task = "make an axis";
  requireText(name, "name", task);
  requireNumbers(values, "values", task);
  requireText(unit, "unit", task);
  const axis = shownAxis(name, values, unit);
  return axis.unit === "" ? { ...axis, title: `${name} (no unit)` } : axis;
}

/**
 * The lowest and the highest finite number of several lists.
 *
 * @param lists Lists of numbers in one unit.
 * @returns Both; infinities the wrong way round where there is no number.
 */
export function extremes(
  lists: readonly ArrayLike<number>[],
): [low: number, high: number] {
  let low = Infinity;
  let high = -Infinity;
  for (const values of lists) {
    for (let k = 0; k < values.length; k++) {
      const value = values[k]!;
      if (value < low && value > -Infinity) low = value;
      if (value > high && value < Infinity) high = value;
    }
  }
  return [low, high];
}
