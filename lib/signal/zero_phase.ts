import { copyInto, copyOf } from "../memory/mod.ts";
import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireNumbers,
  requireRecords,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  butterworthSections,
  type FilterBand,
  type FilterSection,
} from "./butterworth.ts";
import { type NumberSequence, requireFinite } from "./samples.ts";
import { samplingSpec } from "./signal_options.ts";

/** Options of the zero-phase filters. */
export interface ZeroPhaseOptions {
  /** Samples per second, in Hz. */
  samplingRate: number | string;
  /**
   * Order of the Butterworth prototype; run forward and backward, the filter
   * falls off twice as steeply.
   *
   * @default {4}
   */
  order?: number;
}

export const zeroPhaseSpec = {
  ...samplingSpec,
  order: optional(
    optionOf.whole("Order of one pass (1).", { least: 1, most: 12 }),
    4,
  ),
} satisfies Record<keyof ZeroPhaseOptions, Option>;

const work = "filter";
const stride = 1 << 17;

/**
 * Runs second-order sections forward and then backward over the samples: no
 * phase shift, the gain is squared (Gustafsson 1996, IEEE Trans. Signal
 * Process. 44, 988, eq. 1). The ends are continued by their point reflection
 * and the sections start in the steady state of the first value.
 *
 * @param samples Finite numbers, at least two.
 * @param sections The filter.
 * @param padLength Samples added at either end, at most the count − 1.
 * @returns A new array of the same length.
 * @throws {RangeError} If there are fewer than two samples or one is not finite.
 *
 * @example
 * ```ts
 * import { butterworthSections, filterZeroPhase } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const sections = butterworthSections(2, { pass: "low", cutoff: 10 }, 1000);
 * const flat = filterZeroPhase(new Float64Array(50).fill(3), sections, 20);
 * expect(flat[25]).toBeCloseTo(3, 9);
 * ```
 */
export function filterZeroPhase(
  samples: NumberSequence,
  sections: readonly FilterSection[],
  padLength: number,
): Float64Array {
  requireFinite(samples, work);
  requireRecords(sections, "sections", ["b0", "a1"], work);
  const count = samples.length;
  if (count < 2) {
    throw new RangeError("Cannot filter as there is one sample only");
  }
  const pad = Math.max(0, Math.min(Math.floor(padLength), count - 1));
  const data = new Float64Array(count + 2 * pad);
  copyInto(data, pad, samples, work);
  const first = samples[0]!, last = samples[count - 1]!;
  checkpoint(0, work);
  for (let i = 1; i <= pad; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(0, work);
    data[pad - i] = 2 * first - samples[i]!;
    data[pad + count - 1 + i] = 2 * last - samples[count - 1 - i]!;
  }
  const starts = steadyStates(sections);
  runForward(data, sections, starts);
  runBackward(data, sections, starts);
  checkpoint(1, work);
  return pad === 0 ? data : copyOf(data, work, pad, pad + count);
}

/** Inner states of the sections for a constant input of 1. */
function steadyStates(
  sections: readonly FilterSection[],
): { first: number; second: number }[] {
  let level = 1;
  return sections.map(({ b0, b1, b2, a1, a2 }) => {
    const c1 = b1 - a1 * b0;
    const c2 = b2 - a2 * b0;
    const first = (c1 + c2) / (1 + a1 + a2);
    const state = { first: level * first, second: level * (c2 - a2 * first) };
    level *= (b0 + b1 + b2) / (1 + a1 + a2);
    return state;
  });
}

function runForward(
  data: Float64Array,
  sections: readonly FilterSection[],
  starts: readonly { first: number; second: number }[],
): void {
  const level = data[0]!;
  for (let s = 0; s < sections.length; s++) {
    const { b0, b1, b2, a1, a2 } = sections[s]!;
    let u = starts[s]!.first * level;
    let v = starts[s]!.second * level;
    for (let from = 0; from < data.length; from += stride) {
      checkpoint(s / sections.length / 2, work);
      const to = Math.min(data.length, from + stride);
      for (let i = from; i < to; i++) {
        const x = data[i]!;
        const y = b0 * x + u;
        u = b1 * x - a1 * y + v;
        v = b2 * x - a2 * y;
        data[i] = y;
      }
    }
  }
}

function runBackward(
  data: Float64Array,
  sections: readonly FilterSection[],
  starts: readonly { first: number; second: number }[],
): void {
  const level = data[data.length - 1]!;
  for (let s = 0; s < sections.length; s++) {
    const { b0, b1, b2, a1, a2 } = sections[s]!;
    let u = starts[s]!.first * level;
    let v = starts[s]!.second * level;
    for (let from = data.length; from > 0; from -= stride) {
      checkpoint(0.5 + s / sections.length / 2, work);
      const to = Math.max(0, from - stride);
      for (let i = from - 1; i >= to; i--) {
        const x = data[i]!;
        const y = b0 * x + u;
        u = b1 * x - a1 * y + v;
        v = b2 * x - a2 * y;
        data[i] = y;
      }
    }
  }
}

function butterworth(
  samples: NumberSequence,
  band: FilterBand,
  options: ZeroPhaseOptions,
): Float64Array {
  requireNumbers(samples, "samples", work);
  const { samplingRate, order } = readOptions(zeroPhaseSpec, options, work);
  const sections = butterworthSections(order, band, samplingRate);
  const slowest = band.pass === "band"
    ? Math.min(band.low, band.high - band.low)
    : band.cutoff;
  // Two periods of the lowest edge, so that the start dies out in the padding.
  const pad = Math.max(
    3 * (2 * sections.length + 1),
    Math.ceil(2 * samplingRate / slowest),
  );
  return filterZeroPhase(samples, sections, pad);
}

/**
 * Zero-phase Butterworth low-pass. The gain is one half (−6 dB) at the cutoff.
 *
 * @param samples Finite numbers, at least two.
 * @param cutoff Edge frequency in Hz.
 * @param options Sampling rate in Hz, order.
 * @returns A new array of the same length.
 * @throws {RangeError} If a sample is not finite or the cutoff is out of range.
 *
 * @example
 * ```ts
 * import { lowPass } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const noisy = Float64Array.from({ length: 1000 }, (_, n) => 5 + (-1) ** n);
 * const smooth = lowPass(noisy, 50, { samplingRate: 1000 });
 * expect(smooth[500]).toBeCloseTo(5, 6);
 * ```
 */
export function lowPass(
  samples: NumberSequence,
  cutoff: number,
  options: ZeroPhaseOptions,
): Float64Array {
  return butterworth(samples, { pass: "low", cutoff }, options);
}

/**
 * Zero-phase Butterworth high-pass. The gain is one half (−6 dB) at the cutoff.
 *
 * @param samples Finite numbers, at least two.
 * @param cutoff Edge frequency in Hz.
 * @param options Sampling rate in Hz, order.
 * @returns A new array of the same length.
 * @throws {RangeError} If a sample is not finite or the cutoff is out of range.
 *
 * @example
 * ```ts
 * import { highPass } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const steady = new Float64Array(100).fill(5);
 * expect(highPass(steady, 10, { samplingRate: 1000 })[50]).toBeCloseTo(0, 9);
 * ```
 */
export function highPass(
  samples: NumberSequence,
  cutoff: number,
  options: ZeroPhaseOptions,
): Float64Array {
  return butterworth(samples, { pass: "high", cutoff }, options);
}

/**
 * Zero-phase Butterworth band-pass. The gain is one half (−6 dB) at the edges.
 *
 * @param samples Finite numbers, at least two.
 * @param low Lower edge in Hz.
 * @param high Upper edge in Hz.
 * @param options Sampling rate in Hz, order.
 * @returns A new array of the same length.
 * @throws {RangeError} If a sample is not finite or an edge is out of range.
 *
 * @example
 * ```ts
 * import { bandPass } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const steady = new Float64Array(100).fill(5);
 * const rest = bandPass(steady, 50, 100, { samplingRate: 1000 });
 * expect(rest[50]).toBeCloseTo(0, 9);
 * ```
 */
export function bandPass(
  samples: NumberSequence,
  low: number,
  high: number,
  options: ZeroPhaseOptions,
): Float64Array {
  return butterworth(samples, { pass: "band", low, high }, options);
}

/** Options of {@linkcode removeHum}. */
export interface RemoveHumOptions {
  /** Samples per second, in Hz. */
  samplingRate: number | string;
  /**
   * How many multiples of the mains frequency are removed, as far as they lie
   * below half the sampling rate.
   *
   * @default {5}
   */
  harmonics?: number;
  /**
   * Width of each notch in Hz (−3 dB, one pass).
   *
   * @default {2}
   */
  width?: number;
}

export const removeHumSpec = {
  ...samplingSpec,
  harmonics: optional(
    optionOf.whole("How many multiples of the mains frequency are removed.", {
      least: 0,
    }),
    5,
  ),
  width: optional(optionOf.frequency("Width of each notch, in Hz.", "2Hz"), 2),
} satisfies Record<keyof RemoveHumOptions, Option>;

/**
 * Removes mains hum: one zero-phase second-order notch at each multiple of the
 * mains frequency (bilinear notch, Orfanidis, Introduction to Signal
 * Processing, eq. 11.3.19).
 *
 * @param samples Finite numbers, at least two.
 * @param mains Mains frequency in Hz, such as 50 or 60.
 * @param options Sampling rate, number and width of the notches.
 * @returns A new array of the same length.
 * @throws {RangeError} If a sample is not finite or a number is out of range.
 *
 * @example
 * ```ts
 * import { removeHum } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const hum = Float64Array.from(
 *   { length: 4000 },
 *   (_, n) => Math.sin(2 * Math.PI * 50 * n / 1000),
 * );
 * const rest = removeHum(hum, 50, { samplingRate: 1000 });
 * expect(Math.abs(rest[2005]!)).toBeLessThan(1e-3);
 * ```
 */
export function removeHum(
  samples: NumberSequence,
  mains: number,
  options: RemoveHumOptions,
): Float64Array {
  const task = "remove hum";
  requireNumbers(samples, "samples", task);
  const { samplingRate, harmonics, width } = readOptions(
    removeHumSpec,
    options,
    task,
  );
  if (!(mains > 0 && mains < samplingRate / 2)) {
    throw new RangeError(
      `Cannot remove hum as the mains frequency must lie between 0 and half the sampling rate, ${
        samplingRate / 2
      } Hz: current value is ${mains} Hz`,
    );
  }
  if (!(width > 0 && width < samplingRate / 2)) {
    throw new RangeError(
      `Cannot remove hum as 'width' must lie between 0 and half the sampling rate, ${
        samplingRate / 2
      } Hz: current value is ${width} Hz`,
    );
  }
  const sections: FilterSection[] = [];
  for (let h = 1; h <= harmonics && h * mains < samplingRate / 2; h++) {
    const angle = 2 * Math.PI * h * mains / samplingRate;
    const gain = 1 / (1 + Math.tan(Math.PI * width / samplingRate));
    const b1 = -2 * gain * Math.cos(angle);
    sections.push({ b0: gain, b1, b2: gain, a1: b1, a2: 2 * gain - 1 });
  }
  return filterZeroPhase(
    samples,
    sections,
    Math.ceil(2 * samplingRate / width),
  );
}
