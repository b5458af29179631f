import { copyInto, largePages } from "../memory/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
  requireNumbers,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { swapParts, transformComplex, unitRoots } from "./fourier_plan.ts";
import type { NumberSequence } from "./samples.ts";

/** The non-negative-frequency half of the transform of a real sequence. */
export interface RealSpectrum {
  /** Real parts of bins 0 … ⌊N/2⌋. */
  readonly real: Float64Array;
  /** Imaginary parts of bins 0 … ⌊N/2⌋. */
  readonly imaginary: Float64Array;
  /** N, the length of the sequence transformed (after padding). */
  readonly length: number;
}

/** Options of {@linkcode realFourierTransform}. */
export interface RealFourierTransformOptions {
  /**
   * Length N to transform: zeros are added up to it. A power of two is fastest
   * ({@linkcode nextPowerOfTwo}); any other length is done exactly, at about
   * six times the time and memory.
   *
   * @default {samples.length}
   */
  length?: number;
}

/**
 * Discrete Fourier transform of real numbers,
 * X[k] = Σₙ x[n] exp(−2πi nk/N), bins 0 … ⌊N/2⌋ without any scaling.
 *
 * @param samples N numbers.
 * @param options Length after zero padding.
 * @returns Real and imaginary parts of ⌊N/2⌋ + 1 bins.
 * @throws {RangeError} If there are no samples or `length` is below their count.
 *
 * @example
 * ```ts
 * import { realFourierTransform } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const { real } = realFourierTransform(Float64Array.of(1, 2, 3, 4));
 * expect(Array.from(real)).toEqual([10, -2, -2]);
 * ```
 */
export function realFourierTransform(
  samples: NumberSequence,
  options: RealFourierTransformOptions = {},
): RealSpectrum {
  requireNumbers(samples, "samples", task);
  const { length = samples.length } = readOptions(lengthSpec, options, task);
  if (samples.length === 0) {
    throw new RangeError("Cannot transform as there are no samples");
  }
  requireLength(length, samples.length);
  if (length % 2 === 1) {
    const data = new Float64Array(2 * length);
    for (let i = 0; i < samples.length; i++) {
      if ((i & stride) === stride) checkpoint(NaN, task);
      data[2 * i] = samples[i]!;
    }
    return half(transformComplex(data), length);
  }
  // Even length: pairs of samples are one complex number of half the length.
  // The memory of what goes in takes what comes out.
  const memory = largePages(new Float64Array(length + 2));
  copyInto(memory, 0, samples, task);
  const transformed = transformComplex(memory.subarray(0, length));
  return untangle(transformed, memory);
}

function requireLength(length: number, samples: number): void {
  if (Number.isInteger(length) && length >= samples) return;
  throw new RangeError(
    `Cannot transform as 'length' must be an integer of at least the ${samples} samples: current value is ${length}`,
  );
}

function half(data: Float64Array, length: number): RealSpectrum {
  const bins = Math.floor(length / 2) + 1;
  const real = new Float64Array(bins);
  const imaginary = new Float64Array(bins);
  for (let k = 0; k < bins; k++) {
    if ((k & stride) === stride) checkpoint(NaN, task);
    real[k] = data[2 * k]!;
    imaginary[k] = data[2 * k + 1]!;
  }
  return { real, imaginary, length };
}

/** Parts the transform of pairs into that of the samples, in `memory`. */
function untangle(z: Float64Array, memory: Float64Array): RealSpectrum {
  const length = z.length;
  const pairs = length / 2;
  const real = memory.subarray(0, pairs + 1);
  const imaginary = memory.subarray(pairs + 1);
  const { step, shift, fine, coarse } = unitRoots(length);
  for (let k = 0; k <= pairs; k++) {
    if ((k & stride) === stride) checkpoint(NaN, task);
    const i = 2 * (k % pairs);
    const j = 2 * ((pairs - k) % pairs);
    const evenR = 0.5 * (z[i]! + z[j]!);
    const evenI = 0.5 * (z[i + 1]! - z[j + 1]!);
    const oddR = 0.5 * (z[i + 1]! + z[j + 1]!);
    const oddI = -0.5 * (z[i]! - z[j]!);
    const f = 2 * (k & (step - 1));
    const c = 2 * (k >>> shift);
    const wr = fine[f]! * coarse[c]! - fine[f + 1]! * coarse[c + 1]!;
    const wi = fine[f]! * coarse[c + 1]! + fine[f + 1]! * coarse[c]!;
    real[k] = evenR + oddR * wr - oddI * wi;
    imaginary[k] = evenI + oddR * wi + oddI * wr;
  }
  return { real, imaginary, length };
}

/**
 * Inverse of {@linkcode realFourierTransform}:
 * x[n] = (1/N) Σₖ X[k] exp(+2πi nk/N).
 *
 * @param spectrum Bins 0 … ⌊N/2⌋ and N; the imaginary part of bin 0 (and of
 * bin N/2 for even N) counts as 0.
 * @returns N real numbers.
 * @throws {RangeError} If the number of bins does not fit the length.
 *
 * @example
 * ```ts
 * import {
 *   inverseRealFourierTransform,
 *   realFourierTransform,
 * } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const samples = Float64Array.of(1, 2, 3, 4);
 * const back = inverseRealFourierTransform(realFourierTransform(samples));
 * expect(back[2]).toBeCloseTo(3, 12);
 * ```
 */
export function inverseRealFourierTransform(
  spectrum: RealSpectrum,
): Float64Array {
  requireFields(spectrum, "spectrum", ["real", "imaginary", "length"], task);
  const { real, imaginary, length } = spectrum;
  const bins = Math.floor(length / 2) + 1;
  if (real.length !== bins || imaginary.length !== bins) {
    throw new RangeError(
      `Cannot transform back as a length of ${length} needs ${bins} bins: there are ${real.length} real and ${imaginary.length} imaginary parts`,
    );
  }
  return length % 2 === 1 ? inverseOdd(spectrum) : inverseEven(spectrum);
}

function inverseOdd({ real, imaginary, length }: RealSpectrum): Float64Array {
  const data = new Float64Array(2 * length);
  // Parts stored swapped: the forward transform is then the inverse one.
  data[1] = real[0]!;
  for (let k = 1; k < real.length; k++) {
    if ((k & stride) === stride) checkpoint(NaN, task);
    data[2 * k + 1] = data[2 * (length - k) + 1] = real[k]!;
    data[2 * k] = imaginary[k]!;
    data[2 * (length - k)] = -imaginary[k]!;
  }
  const out = transformComplex(data);
  const samples = new Float64Array(length);
  for (let n = 0; n < length; n++) {
    if ((n & stride) === stride) checkpoint(NaN, task);
    samples[n] = out[2 * n + 1]! / length;
  }
  return samples;
}

function inverseEven({ real, imaginary, length }: RealSpectrum): Float64Array {
  const pairs = length / 2;
  const z = largePages(new Float64Array(length));
  const { step, shift, fine, coarse } = unitRoots(length);
  for (let k = 0; k < pairs; k++) {
    if ((k & stride) === stride) checkpoint(NaN, task);
    const edge = k === 0 ? 0 : 1;
    const xr = real[k]!, xi = edge * imaginary[k]!;
    const yr = real[pairs - k]!, yi = -edge * imaginary[pairs - k]!;
    const evenR = 0.5 * (xr + yr), evenI = 0.5 * (xi + yi);
    const sumR = 0.5 * (xr - yr), sumI = 0.5 * (xi - yi);
    const f = 2 * (k & (step - 1));
    const c = 2 * (k >>> shift);
    const wr = fine[f]! * coarse[c]! - fine[f + 1]! * coarse[c + 1]!;
    const wi = -(fine[f]! * coarse[c + 1]! + fine[f + 1]! * coarse[c]!);
    const oddR = sumR * wr - sumI * wi;
    const oddI = sumR * wi + sumI * wr;
    z[2 * k + 1] = evenR - oddI;
    z[2 * k] = evenI + oddR;
  }
  const out = transformComplex(z);
  swapParts(out);
  for (let n = 0; n < length; n++) {
    if ((n & stride) === stride) checkpoint(NaN, task);
    out[n]! /= pairs;
  }
  return out;
}

/** A complex sequence. */
export interface ComplexSequence {
  /** Real parts. */
  readonly real: Float64Array;
  /** Imaginary parts. */
  readonly imaginary: Float64Array;
}

/** Options of {@linkcode complexFourierTransform}. */
export interface ComplexFourierTransformOptions {
  /**
   * Length N to transform: zeros are added up to it.
   *
   * @default {sequence.real.length}
   */
  length?: number;
}

const task = "transform";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

export const lengthSpec = {
  length: optional(
    optionOf.finite("Samples of the transform, filled up with zeros."),
    undefined,
    "the samples given",
  ),
} satisfies Record<keyof RealFourierTransformOptions, Option>;

/**
 * Discrete Fourier transform of complex numbers, any length,
 * X[k] = Σₙ x[n] exp(−2πi nk/N).
 *
 * @param sequence Complex numbers.
 * @param options Length after zero padding.
 * @returns N complex numbers; bins above N/2 are the negative frequencies.
 * @throws {RangeError} If the parts differ in length or are empty, or `length` is
 * below their count.
 *
 * @example
 * ```ts
 * import { complexFourierTransform } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const { real } = complexFourierTransform({
 *   real: Float64Array.of(1, 0, 0),
 *   imaginary: new Float64Array(3),
 * });
 * expect(real[2]).toBeCloseTo(1, 12);
 * ```
 */
export function complexFourierTransform(
  sequence: ComplexSequence,
  options: ComplexFourierTransformOptions = {},
): { real: Float64Array; imaginary: Float64Array } {
  requireFields(sequence, "sequence", ["real", "imaginary"], task);
  const given = sequence.real.length;
  const { length = given } = readOptions(lengthSpec, options, task);
  if (given === 0 || sequence.imaginary.length !== given) {
    throw new RangeError(
      `Cannot transform as real and imaginary parts must have one length of at least 1: they have ${given} and ${sequence.imaginary.length}`,
    );
  }
  requireLength(length, given);
  const data = largePages(new Float64Array(2 * length));
  for (let n = 0; n < given; n++) {
    if ((n & stride) === stride) checkpoint(NaN, task);
    data[2 * n] = sequence.real[n]!;
    data[2 * n + 1] = sequence.imaginary[n]!;
  }
  const out = transformComplex(data);
  // The memory of what went in takes what comes out.
  const real = data.subarray(0, length);
  const imaginary = data.subarray(length);
  for (let n = 0; n < length; n++) {
    if ((n & stride) === stride) checkpoint(NaN, task);
    real[n] = out[2 * n]!;
    imaginary[n] = out[2 * n + 1]!;
  }
  return { real, imaginary };
}
