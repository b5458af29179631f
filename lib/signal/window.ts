import {
  flagOption,
  type Option,
  optional,
  readOptions,
  requireNumbers,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Names of the windows. */
export const windowNames = [
  "rectangular",
  "triangular",
  "Hann",
  "Hamming",
  "Blackman",
  "Blackman-Harris",
  "flat-top",
] as const;

/** Name of a window. */
export type WindowName = typeof windowNames[number];

/** Cosine-sum coefficients: w = a0 − a1 cos x + a2 cos 2x − … */
const cosineSums: Record<
  Exclude<WindowName, "triangular">,
  readonly number[]
> = {
  "rectangular": [1],
  "Hann": [0.5, 0.5],
  "Hamming": [0.54, 0.46],
  "Blackman": [0.42, 0.5, 0.08],
  "Blackman-Harris": [0.35875, 0.48829, 0.14128, 0.01168],
  "flat-top": [
    0.21557895,
    0.41663158,
    0.277263158,
    0.083578947,
    0.006947368,
  ],
};

/** Options of {@linkcode windowValues}. */
export interface WindowOptions {
  /**
   * `false`: periodic (DFT-even), for spectra. `true`: symmetric, the first
   * and the last value equal, for filter design.
   *
   * @default {false}
   */
  symmetric?: boolean;
}

export const windowSpec = {
  symmetric: optional(
    flagOption("Whether the first and last value are equal, as for filters."),
    false,
  ),
} satisfies Record<keyof WindowOptions, Option>;

/**
 * Values of a window. Cosine sums after Harris 1978, Proc. IEEE 66, 51;
 * the flat-top has five terms (D'Antona and Ferrero 2006).
 *
 * @param name Which window.
 * @param length Number of values N, at least 1.
 * @param options Periodic or symmetric.
 * @returns N values, at most 1 (flat-top: slightly above 1).
 * @throws {RangeError} If the name is unknown or the length no positive integer.
 *
 * @example
 * ```ts
 * import { windowValues } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * expect(windowValues("Hann", 4)[2]).toBe(1);
 * ```
 */
export function windowValues(
  name: WindowName,
  length: number,
  options: WindowOptions = {},
): Float64Array {
  const task = "make a window";
  const { symmetric } = readOptions(windowSpec, options, task);
  if (!Number.isInteger(length) || length < 1) {
    throw new RangeError(
      `Cannot make a window as 'length' must be a positive integer: current value is ${length}`,
    );
  }
  const period = symmetric ? length - 1 : length;
  if (length === 1) return Float64Array.of(1);
  if (name === "triangular") {
    const values = new Float64Array(length);
    for (let n = 0; n < length; n++) {
      if ((n & 0x1ffff) === 0x1ffff) checkpoint(n / length, "window");
      values[n] = 1 - Math.abs(2 * n / period - 1);
    }
    return values;
  }
  const terms = Object.hasOwn(cosineSums, name) ? cosineSums[name] : undefined;
  if (terms === undefined) {
    throw new RangeError(
      `Cannot make a window as the name '${name}' is unknown: use one of triangular, ${
        Object.keys(cosineSums).join(", ")
      }`,
    );
  }
  const values = new Float64Array(length);
  for (let n = 0; n < length; n++) {
    if ((n & 0xffff) === 0xffff) checkpoint(n / length, "window");
    const x = 2 * Math.PI * n / period;
    let value = 0;
    for (let j = 0; j < terms.length; j++) {
      value += (j % 2 === 0 ? 1 : -1) * terms[j]! * Math.cos(j * x);
    }
    values[n] = value;
  }
  return values;
}

/** What a window does to a spectrum. */
export interface WindowFigures {
  /** Mean of the values (1): a line's height is multiplied by it. */
  readonly coherentGain: number;
  /** Equivalent noise bandwidth N Σw²/(Σw)², in bins of 1/(N Δt). */
  readonly equivalentNoiseBandwidth: number;
  /** Σw² / N (1): power of white noise is multiplied by it. */
  readonly noiseGain: number;
}

/**
 * Coherent gain and equivalent noise bandwidth of a window
 * (Harris 1978, eqs. 11 and 15; Heinzel, Rüdiger, Schilling 2002, eqs. 19–22).
 *
 * @param values The window.
 * @returns Its figures.
 *
 * @example
 * ```ts
 * import { windowFigures, windowValues } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const figures = windowFigures(windowValues("Hann", 1024));
 * expect(figures.equivalentNoiseBandwidth).toBeCloseTo(1.5, 12);
 * ```
 */
export function windowFigures(values: Float64Array): WindowFigures {
  requireNumbers(values, "values", "give the figures of a window");
  let sum = 0;
  let squares = 0;
  for (let n = 0; n < values.length; n++) {
    if ((n & 0x1ffff) === 0x1ffff) checkpoint(n / values.length, "window");
    const value = values[n]!;
    sum += value;
    squares += value * value;
  }
  return {
    coherentGain: sum / values.length,
    equivalentNoiseBandwidth: values.length * squares / (sum * sum),
    noiseGain: squares / values.length,
  };
}
