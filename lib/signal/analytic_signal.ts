import { copyInto, copyOf, largePages } from "../memory/mod.ts";
import {
  choiceOption,
  type Option,
  optional,
  readOptions,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  type ComplexSequence,
  inverseRealFourierTransform,
  realFourierTransform,
} from "./fourier.ts";
import {
  nextPowerOfTwo,
  type NumberSequence,
  requireFinite,
} from "./samples.ts";

/** Options of {@linkcode analyticSignal}. */
export interface AnalyticSignalOptions {
  /**
   * `"mirror"`: both ends are continued by their mirror image up to a power of
   * two, which keeps the wrap-around of the transform away from the ends.
   * `"none"`: the sequence counts as periodic, as in the textbook definition.
   *
   * @default {"mirror"}
   */
  padding?: "mirror" | "none";
}

const task = "make an analytic signal";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

export const analyticSpec = {
  padding: optional(
    choiceOption("What stands beyond the ends.", ["mirror", "none"]),
    "mirror",
  ),
} satisfies Record<keyof AnalyticSignalOptions, Option>;

/**
 * Analytic signal z = x + i H(x), with H the Hilbert transform made in the
 * frequency domain: negative frequencies are set to zero, positive ones
 * doubled (Marple 1999, IEEE Trans. Signal Process. 47, 2600). Its modulus is
 * the envelope, its argument the phase.
 *
 * @param samples N finite numbers; remove their mean first.
 * @param options How the ends are continued.
 * @returns N real parts (the samples themselves) and N imaginary parts.
 * @throws {RangeError} If there are no samples or one is not finite.
 *
 * @example The quadrature of a cosine is the sine
 * ```ts
 * import { analyticSignal } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const turn = (n: number) => 2 * Math.PI * 3 * n / 64;
 * const samples = Float64Array.from({ length: 64 }, (_, n) => Math.cos(turn(n)));
 * const { imaginary } = analyticSignal(samples, { padding: "none" });
 * expect(imaginary[5]).toBeCloseTo(Math.sin(turn(5)), 12);
 * ```
 */
export function analyticSignal(
  samples: NumberSequence,
  options: AnalyticSignalOptions = {},
): ComplexSequence {
  const { padding } = readOptions(analyticSpec, options, task);
  requireFinite(samples, task);
  const count = samples.length;
  const real = copyOf(samples, task);
  if (padding === "none") return { real, imaginary: quadrature(real) };
  const least = count + 2 * Math.min(256, count - 1);
  const length = nextPowerOfTwo(least);
  const before = Math.floor(Math.min(length - count, 2 * (count - 1)) / 2);
  const padded = largePages(new Float64Array(length));
  copyInto(padded, before, real, task);
  for (let i = 1; i <= before; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    padded[before - i] = real[i]!;
  }
  const after = Math.min(length - count - before, count - 1);
  for (let i = 1; i <= after; i++) {
    if ((i & stride) === stride) checkpoint(NaN, task);
    padded[before + count - 1 + i] = real[count - 1 - i]!;
  }
  return {
    real,
    imaginary: copyOf(quadrature(padded), task, before, before + count),
  };
}

function quadrature(samples: Float64Array): Float64Array {
  const { real, imaginary, length } = realFourierTransform(samples);
  // The Hilbert transform multiplies positive frequencies by −i.
  for (let k = 0; k < real.length; k++) {
    if ((k & stride) === stride) checkpoint(NaN, task);
    const r = real[k]!;
    real[k] = imaginary[k]!;
    imaginary[k] = -r;
  }
  real[0] = imaginary[0] = 0;
  if (length % 2 === 0) real[length / 2] = imaginary[length / 2] = 0;
  return inverseRealFourierTransform({ real, imaginary, length });
}
