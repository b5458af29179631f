import { largePages } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { readOptions, requireNumbers } from "../options/mod.ts";
import type { NumberSequence } from "./samples.ts";
import { samplingSpec } from "./signal_options.ts";

/** Options of {@linkcode undoCoupling}. */
export interface UndoCouplingOptions {
  /** Samples per second, in Hz. */
  samplingRate: number | string;
}

/**
 * Undoes a coupling capacitor: a first-order high-pass of corner f_c took y from
 * x, and x(t) = y(t) + 2π f_c ∫ y dt gives it back, but for a constant. Slow
 * parts that drooped stand level again. Noise far below the corner grows with the
 * length of the record: undo a corner only where the record is shorter than some
 * tens of 1/f_c.
 *
 * The integral is the trapezoidal sum, which undoes the bilinear first-order
 * high-pass exactly where 2π f_c is small against the sampling rate.
 *
 * @param samples Samples behind the capacitor, any unit.
 * @param corner Corner frequency f_c, in Hz.
 * @param options Sampling rate in Hz.
 * @returns As many samples, in the same unit; the constant is that of the first
 * sample.
 * @throws {RangeError} If the corner or the sampling rate is not positive.
 *
 * @example
 * ```ts
 * import { undoCoupling } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * // A step of 1 V behind a corner of 2 Hz droops to 1/e in 80 ms.
 * const drooped = Float64Array.from(
 *   { length: 1000 },
 *   (_, i) => Math.exp(-2 * Math.PI * 2 * i / 10e3),
 * );
 * const level = undoCoupling(drooped, 2, { samplingRate: 10e3 });
 * expect(level[999]).toBeCloseTo(1, 6);
 * ```
 */
export function undoCoupling(
  samples: NumberSequence,
  corner: number,
  options: UndoCouplingOptions,
): Float64Array {
  const task = "undo a coupling";
  requireNumbers(samples, "samples", task);
  const { samplingRate } = readOptions(samplingSpec, options, task);
  for (const [name, value] of Object.entries({ corner, samplingRate })) {
    if (!(value > 0 && Number.isFinite(value))) {
      throw new RangeError(
        `Cannot undo a coupling as '${name}' must be a positive number of Hz: current value is ${value}`,
      );
    }
  }
  const step = Math.PI * corner / samplingRate;
  const level = largePages(new Float64Array(samples.length));
  let charge = 0;
  let before = samples[0] ?? 0;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(i / samples.length, task);
    const value = samples[i]!;
    if (i > 0) charge += step * (before + value);
    before = value;
    level[i] = value + charge;
  }
  return level;
}
