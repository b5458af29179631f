import {
  choiceOption,
  type Option,
  optional,
  optionOf,
  readOptions,
} from "../options/mod.ts";
/** Options of {@linkcode rampCurrent}. */
export interface RampCurrentOptions {
  /** Lowest current, in A. */
  low: number | string;
  /** Highest current, in A. */
  high: number | string;
  /** Ramps (periods) per second, in Hz. */
  frequency: number | string;
  /**
   * Shape: up and down alike, or up and back at once.
   *
   * @default {"triangle"}
   */
  shape?: "triangle" | "sawtooth";
  /**
   * Part of the period already over at time 0 (1); 0 starts at `low`, rising.
   *
   * @default {0}
   */
  start?: number;
}

export const rampSpec = {
  low: optionOf.current("Lowest current, in A."),
  high: optionOf.current("Highest current, in A."),
  frequency: optionOf.frequency("Ramps (periods) per second, in Hz.", "10Hz"),
  shape: optional(
    choiceOption("Shape of the ramp.", ["triangle", "sawtooth"]),
    "triangle",
  ),
  start: optional(
    optionOf.finite("Part of the period already over at time 0 (1)."),
    0,
  ),
} satisfies Record<keyof RampCurrentOptions, Option>;

/**
 * A drive current that ramps, for {@linkcode simulateCapture}.
 *
 * @param options Ends in A, frequency in Hz, shape.
 * @returns The current in A as a function of time in s.
 * @throws {RangeError} If the frequency is not positive.
 *
 * @example
 * ```ts
 * import { rampCurrent } from "fringebook";
 * import { expect } from "vitest";
 *
 * const current = rampCurrent({ low: 0.03, high: 0.05, frequency: 10 });
 * expect(current(0.05)).toBeCloseTo(0.05, 12);
 * expect(current(0.075)).toBeCloseTo(0.04, 12);
 * ```
 */
export function rampCurrent(
  options: RampCurrentOptions,
): (time: number) => number {
  const { low, high, frequency, shape, start } = readOptions(
    rampSpec,
    options,
    "make a ramp",
  );
  return (time) => {
    const turns = time * frequency + start;
    const part = turns - Math.floor(turns);
    const rise = shape === "sawtooth" ? part : 1 - Math.abs(2 * part - 1);
    return low + (high - low) * rise;
  };
}
