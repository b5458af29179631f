import { requireNumber, requireNumbers } from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Anything that holds numbers in order. */
export type NumberSequence = Float64Array | Float32Array | readonly number[];

/**
 * Throws if a sequence is empty or holds a value that is not finite.
 *
 * @param samples The sequence.
 * @param task What was to be done, such as `"filter"`, for the message.
 * @throws {RangeError} If it is empty or a value is NaN or infinite.
 */
export function requireFinite(samples: NumberSequence, task: string): void {
  requireNumbers(samples, "samples", task);
  const count = samples.length;
  if (count === 0) {
    throw new RangeError(`Cannot ${task} as there are no samples`);
  }
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, task);
    const value = samples[i]!;
    // Only NaN and the infinities differ from themselves after `- value`.
    if (value - value !== 0) {
      throw new RangeError(
        `Cannot ${task} as sample ${i} of ${count} is ${value}: cut the capture around missing samples first`,
      );
    }
  }
}

/**
 * Throws if a sampling rate is not a positive finite number.
 *
 * @param samplingRate Samples per second, in Hz.
 * @param task What was to be done, for the message.
 * @throws {RangeError} If it is not positive and finite.
 */
export function requireSamplingRate(samplingRate: number, task: string): void {
  if (!(samplingRate > 0 && Number.isFinite(samplingRate))) {
    throw new RangeError(
      `Cannot ${task} as 'samplingRate' must be a positive number of Hz: current value is ${samplingRate}`,
    );
  }
}

/** Evenly spaced numbers: first + n step, n = 0 … count − 1. */
export function evenlySpaced(
  count: number,
  step: number,
  first = 0,
): Float64Array {
  const out = new Float64Array(count);
  for (let n = 0; n < count; n++) {
    if ((n & 0x1ffff) === 0x1ffff) checkpoint(NaN, "count evenly");
    out[n] = first + n * step;
  }
  return out;
}

/**
 * The smallest power of two not below a length.
 *
 * @param length At least 1.
 * @returns The power of two.
 *
 * @example
 * ```ts
 * import { nextPowerOfTwo } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * expect(nextPowerOfTwo(1000)).toBe(1024);
 * ```
 */
export function nextPowerOfTwo(length: number): number {
  requireNumber(length, "length", "1", "give the next power of two");
  let power = 1;
  while (power < length) power *= 2;
  return power;
}
