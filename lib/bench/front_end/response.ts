import { copyInto, copyOf } from "../../memory/mod.ts";
import {
  type Option,
  optional,
  quantityOption,
  readOptions,
  requireNumbers,
} from "../../options/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import {
  inverseRealFourierTransform,
  nextPowerOfTwo,
  realFourierTransform,
} from "../../signal/mod.ts";
import {
  amplifierDynamics,
  completeAmplifier,
  couplingCorner,
  type TransimpedanceAmplifier,
} from "./amplifier.ts";

const work = "filter as an amplifier does";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** Response of an amplifier relative to the middle of its band. */
export interface AmplifierResponse {
  /** Frequencies, in Hz. */
  readonly frequencies: Float64Array;
  /** Real part (1). */
  readonly real: Float64Array;
  /** Imaginary part (1). */
  readonly imaginary: Float64Array;
  /** Magnitude (1). */
  readonly magnitude: Float64Array;
  /** Phase, in rad, from -π to π. */
  readonly phase: Float64Array;
}

/**
 * Frequency response of an amplifier relative to its gain in the middle of the
 * band: two poles, and the coupling capacitor's zero and pole.
 *
 * @param amplifier What differs from the default amplifier.
 * @param frequencies In Hz, not negative.
 * @returns Real and imaginary part, magnitude and phase at each frequency.
 * @throws {RangeError} If a value is negative or not finite.
 *
 * @example
 * ```ts
 * import { amplifierDynamics, amplifierResponse } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const { bandwidth } = amplifierDynamics();
 * const { magnitude } = amplifierResponse({}, [0, bandwidth]);
 * expect(magnitude[0]).toBe(1);
 * expect(magnitude[1]).toBeCloseTo(Math.SQRT1_2, 9);
 * ```
 */
export function amplifierResponse(
  amplifier: Partial<TransimpedanceAmplifier>,
  frequencies: ArrayLike<number>,
): AmplifierResponse {
  const task = "give the response of an amplifier";
  requireNumbers(frequencies, "frequencies", task);
  const responseAt = createResponse(amplifier);
  const count = frequencies.length;
  const real = new Float64Array(count);
  const imaginary = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    if ((i & stride) === stride) checkpoint(i / count, task);
    [real[i], imaginary[i]] = responseAt(frequencies[i]!);
  }
  return {
    frequencies: Float64Array.from(frequencies),
    real,
    imaginary,
    magnitude: real.map((re, i) => Math.hypot(re, imaginary[i]!)),
    phase: real.map((re, i) => Math.atan2(imaginary[i]!, re)),
  };
}

/**
 * Sends samples through an amplifier: its response relative to the middle of
 * the band is applied, so that the unit stays.
 *
 * @param samples Samples; the trace is closed smoothly behind its end.
 * @param samplingRate Samples per second, in Hz.
 * @param amplifier What differs from the default amplifier.
 * @returns As many samples.
 * @throws {RangeError} If the sampling rate is not positive.
 *
 * @example
 * ```ts
 * import { applyAmplifier } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const flat = applyAmplifier(new Float64Array(100).fill(2), 1e6, {});
 * expect(flat[50]).toBeCloseTo(2, 9);
 * ```
 */
export function applyAmplifier(
  samples: Float64Array,
  samplingRate: number,
  amplifier: Partial<TransimpedanceAmplifier>,
): Float64Array {
  return filter(samples, samplingRate, amplifier, (re, im) => [re, im]);
}

/** Options of {@linkcode undoAmplifier}. */
export interface UndoAmplifierOptions {
  /**
   * How much a frequency may be raised at most (1): where the amplifier lets
   * less than its inverse through, noise would win.
   *
   * @default {10}
   */
  largestBoost?: number;
}

export const undoSpec = {
  largestBoost: optional(
    quantityOption({
      doc: "How much a frequency may be raised at most (1).",
      unit: "1",
      least: 1,
    }),
    10,
  ),
} satisfies Record<keyof UndoAmplifierOptions, Option>;

/**
 * Undoes what an amplifier did to samples, as far as noise lets it: divides by
 * its response, but raises no frequency by more than `largestBoost`. What the
 * coupling capacitor took away at 0 Hz does not come back.
 *
 * @param samples Samples behind the amplifier.
 * @param samplingRate Samples per second, in Hz.
 * @param amplifier What differs from the default amplifier.
 * @param options Largest boost.
 * @returns As many samples, in the same unit.
 * @throws {RangeError} If the sampling rate is not positive or the boost below
 * 1.
 *
 * @example
 * ```ts
 * import { undoAmplifier } from "fringebook";
 * import { applyAmplifier } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const slow = { feedbackCapacitance: 100e-12 };
 * const wave = Float64Array.from(
 *   { length: 1000 },
 *   (_, i) => Math.sin(2 * Math.PI * i / 50),
 * );
 * const seen = applyAmplifier(wave, 1e6, slow);
 * expect(Math.max(...seen)).toBeLessThan(0.9);
 * expect(undoAmplifier(seen, 1e6, slow)[512]).toBeCloseTo(wave[512]!, 3);
 * ```
 */
export function undoAmplifier(
  samples: Float64Array,
  samplingRate: number,
  amplifier: Partial<TransimpedanceAmplifier>,
  options: UndoAmplifierOptions = {},
): Float64Array {
  const { largestBoost } = readOptions(undoSpec, options, "undo an amplifier");
  return filter(samples, samplingRate, amplifier, (re, im) => {
    const size = Math.hypot(re, im);
    if (size === 0) return [0, 0];
    const gain = Math.min(1 / size, largestBoost) / size;
    return [re * gain, -im * gain];
  });
}

/** Real and imaginary part of the response at a frequency in Hz. */
function createResponse(
  amplifier: Partial<TransimpedanceAmplifier>,
): (frequency: number) => [real: number, imaginary: number] {
  const complete = completeAmplifier(amplifier);
  const { naturalFrequency, qualityFactor } = amplifierDynamics(complete);
  const corner = couplingCorner(complete);
  return (frequency) => {
    const x = frequency / naturalFrequency;
    const denominatorReal = 1 - x * x;
    const denominatorImaginary = x / qualityFactor;
    const size = denominatorReal ** 2 + denominatorImaginary ** 2;
    const re = denominatorReal / size;
    const im = -denominatorImaginary / size;
    if (corner === null) return [re, im];
    // i y/(1 + i y) with y = f/f_c.
    const y = frequency / corner;
    const a = y * y / (1 + y * y);
    const b = y / (1 + y * y);
    return [re * a - im * b, re * b + im * a];
  };
}

function filter(
  samples: Float64Array,
  samplingRate: number,
  amplifier: Partial<TransimpedanceAmplifier>,
  factor: (re: number, im: number) => [number, number],
): Float64Array {
  requireNumbers(samples, "samples", work);
  if (!(samplingRate > 0 && Number.isFinite(samplingRate))) {
    throw new RangeError(
      `Cannot apply an amplifier as 'samplingRate' must be a positive number of Hz: current value is ${samplingRate}`,
    );
  }
  const count = samples.length;
  if (count === 0) return new Float64Array(0);
  const length = nextPowerOfTwo(2 * count);
  const closed = closeSmoothly(samples, length);
  const { real, imaginary } = realFourierTransform(closed);
  const responseAt = createResponse(amplifier);
  for (let k = 0; k < real.length; k++) {
    if ((k & stride) === stride) checkpoint(k / real.length, work);
    const [re, im] = factor(...responseAt(k * samplingRate / length));
    const before = real[k]!;
    real[k] = before * re - imaginary[k]! * im;
    imaginary[k] = before * im + imaginary[k]! * re;
  }
  const filtered = inverseRealFourierTransform({ real, imaginary, length });
  return copyOf(filtered, work, 0, count);
}

/** Mirrors the ends and fades between them, so that the period has no step. */
function closeSmoothly(samples: Float64Array, length: number): Float64Array {
  const count = samples.length;
  const closed = new Float64Array(length);
  copyInto(closed, 0, samples, work);
  const gap = length - count;
  for (let i = 0; i < gap; i++) {
    if ((i & stride) === stride) checkpoint(i / gap, work);
    const afterEnd = samples[Math.max(0, count - 2 - i % count)]!;
    const beforeStart = samples[Math.min(count - 1, (gap - i) % count)]!;
    const fade = (1 - Math.cos(Math.PI * (i + 1) / (gap + 1))) / 2;
    closed[count + i] = afterEnd * (1 - fade) + beforeStart * fade;
  }
  return closed;
}
