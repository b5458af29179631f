import { checkpoint } from "../progress/mod.ts";
import { copyOf, largePages } from "../memory/mod.ts";
import { requireFields, requireNumber } from "../options/mod.ts";
import {
  complexFourierTransform,
  realFourierTransform,
  type RealSpectrum,
} from "./fourier.ts";
import {
  nextPowerOfTwo,
  type NumberSequence,
  requireFinite,
  requireSamplingRate,
} from "./samples.ts";

/** A narrow band of a record, moved to zero frequency and thinned out. */
export interface Baseband {
  /** Real parts, in the unit of the samples. */
  readonly real: Float64Array;
  /** Imaginary parts, in the unit of the samples. */
  readonly imaginary: Float64Array;
  /** Complex samples per second, in Hz. */
  readonly samplingRate: number;
  /** The frequency that was moved to zero, in Hz. */
  readonly centre: number;
  /** Half-width of the flat part of the band, in Hz. */
  readonly flatHalfWidth: number;
}

/**
 * The transform of a record from which bands can be cut with
 * {@linkcode cutBaseband}: the mean is removed, zeros are added up to a power
 * of two.
 */
export interface BandSource {
  /** The spectrum. */
  readonly spectrum: RealSpectrum;
  /** Samples in the record. */
  readonly sampleCount: number;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
}

/**
 * Transforms a record once, so that several bands can be cut from it.
 *
 * @param samples Finite numbers.
 * @param samplingRate Samples per second, in Hz.
 * @returns The source of bands.
 * @throws {RangeError} If a sample is not finite.
 *
 * @example
 * ```ts
 * import { bandSource } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * expect(bandSource([1, 2, 3], 10).spectrum.length).toBe(4);
 * ```
 */
export function bandSource(
  samples: NumberSequence,
  samplingRate: number,
): BandSource {
  const task = "cut a band";
  requireSamplingRate(samplingRate, task);
  requireFinite(samples, task);
  const count = samples.length;
  let mean = 0;
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, task);
    mean += samples[i]! / count;
  }
  const length = Math.max(2, nextPowerOfTwo(count));
  const centred = largePages(new Float64Array(count));
  for (let i = 0; i < count; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, task);
    centred[i] = samples[i]! - mean;
  }
  return {
    spectrum: realFourierTransform(centred, { length }),
    sampleCount: count,
    samplingRate,
  };
}

/**
 * Cuts a band out of a record in the frequency domain and moves its centre to
 * zero frequency: A cos(2π(fc + δ)t + φ) becomes A exp(i(2πδt + φ)). The band
 * is flat over its inner half and falls off as a raised cosine outside.
 *
 * @param source The transformed record.
 * @param centre Middle of the band, in Hz; the nearest bin is taken.
 * @param halfWidth Half of the band's width, in Hz.
 * @returns The complex samples that lie inside the record.
 * @throws {RangeError} If the band does not lie between zero and half the
 * sampling rate.
 *
 * @example
 * ```ts
 * import { bandSource, cutBaseband } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const tone = Float64Array.from(
 *   { length: 4096 },
 *   (_, n) => 3 * Math.cos(2 * Math.PI * n / 8),
 * );
 * const { real } = cutBaseband(bandSource(tone, 8), 1, 0.1);
 * expect(real[20]).toBeCloseTo(3, 6);
 * ```
 */
export function cutBaseband(
  source: BandSource,
  centre: number,
  halfWidth: number,
): Baseband {
  const task = "cut a band";
  requireFields(source, "source", ["spectrum", "sampleCount"], task);
  requireNumber(centre, "centre", "Hz", task);
  requireNumber(halfWidth, "halfWidth", "Hz", task);
  const { spectrum, sampleCount, samplingRate } = source;
  const { length } = spectrum;
  const middle = Math.round(centre * length / samplingRate);
  const reach = Math.max(2, Math.ceil(halfWidth * length / samplingRate));
  if (!(middle - reach >= 0 && middle + reach <= length / 2)) {
    throw new RangeError(
      `Cannot cut a band of ${centre} ± ${halfWidth} Hz as it must lie between 0 and half the sampling rate, ${
        samplingRate / 2
      } Hz`,
    );
  }
  const size = Math.min(length, nextPowerOfTwo(2 * reach));
  // Real and imaginary parts change places: the forward transform is then the
  // inverse one.
  const real = largePages(new Float64Array(size));
  const imaginary = largePages(new Float64Array(size));
  for (let offset = -reach; offset < reach; offset++) {
    if ((offset & 0xffff) === 0xffff) checkpoint(NaN, task);
    const outside = Math.max(0, 2 * Math.abs(offset) / reach - 1);
    const gain = (1 + Math.cos(Math.PI * outside)) / length;
    const at = (offset + size) % size;
    real[at] = gain * spectrum.imaginary[middle + offset]!;
    imaginary[at] = gain * spectrum.real[middle + offset]!;
  }
  const swapped = complexFourierTransform({ real, imaginary });
  const inside = Math.max(
    1,
    Math.min(size, Math.ceil(sampleCount * size / length)),
  );
  return {
    real: copyOf(swapped.imaginary, task, 0, inside),
    imaginary: copyOf(swapped.real, task, 0, inside),
    samplingRate: samplingRate * size / length,
    centre: middle * samplingRate / length,
    flatHalfWidth: reach / 2 * samplingRate / length,
  };
}
