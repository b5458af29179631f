import { requireFields, requireNumbers } from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { RandomStream } from "../signal/mod.ts";

/** Fading of the light that comes back from a rough target. */
export interface SpeckleModel {
  /**
   * How much of the returning field is speckle, 0 (a mirror) to 1 (fully
   * developed).
   */
  contrast: number;
  /**
   * Length over which the speckle changes, in m of `coordinate`.
   */
  correlationLength: number;
  /**
   * What moves the speckle: the target distance, or the sideways position of the
   * surface in m as a function of time in s.
   *
   * @default {"distance"}
   */
  coordinate?: "distance" | ((time: number) => number);
}

/** Field of the returning light relative to a mirror's, sample by sample. */
export interface SpeckleField {
  /** Amplitude (1). */
  readonly amplitude: Float64Array;
  /** Phase, in rad, unwrapped. */
  readonly phase: Float64Array;
}

const nodesPerLength = 2;
const reach = 6;
const mostNodes = 4e6;

/**
 * Gives the speckle field along a coordinate: a steady part and a complex
 * Gaussian part of smooth course, the same whenever the same place comes back.
 *
 * @param position Coordinate of each sample, in m.
 * @param contrast Share of the speckle, 0 to 1.
 * @param correlationLength In m.
 * @param random Where the pattern comes from.
 * @returns Amplitude and phase of each sample; the mean of the squared
 * amplitude over many places is 1.
 *
 * @example
 * ```ts
 * import { speckleField } from "fringebook/laser";
 * import { createRandom } from "fringebook/signal";
 * import { expect } from "vitest";
 *
 * const there = Float64Array.of(0, 1e-5, 0);
 * const { amplitude } = speckleField(there, 1, 1e-6, createRandom(1));
 * expect(amplitude[2]).toBe(amplitude[0]);
 * ```
 */
export function speckleField(
  position: Float64Array,
  contrast: number,
  correlationLength: number,
  random: RandomStream,
): SpeckleField {
  const task = "make speckle";
  requireNumbers(position, "position", task);
  requireFields(random, "random", ["normal", "uniform"], task);
  if (!(contrast >= 0 && contrast <= 1 && correlationLength > 0)) {
    throw new RangeError(
      `Cannot make speckle as 'contrast' must lie from 0 to 1 and 'correlationLength' must be a positive number of m: current values are ${contrast}, ${correlationLength}`,
    );
  }
  let lowest = Infinity;
  let highest = -Infinity;
  for (let i = 0; i < position.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "speckle");
    const value = position[i]!;
    if (value < lowest) lowest = value;
    if (value > highest) highest = value;
  }
  const spacing = correlationLength / nodesPerLength;
  const count = Math.ceil((highest - lowest) / spacing) + 2 * reach + 2;
  if (!(count <= mostNodes)) {
    throw new RangeError(
      `Cannot make speckle as the surface passes ${count} grains, more than ${mostNodes}: raise 'correlationLength' (${correlationLength} m) or simulate a shorter time`,
    );
  }
  const real = new Float64Array(count);
  const imaginary = new Float64Array(count);
  for (let k = 0; k < count; k++) {
    if ((k & 0xffff) === 0) checkpoint(NaN, "speckle");
    real[k] = random.normal();
    imaginary[k] = random.normal();
  }
  const steady = Math.sqrt(1 - contrast * contrast);
  const amplitude = new Float64Array(position.length);
  const phase = new Float64Array(position.length);
  let turns = 0;
  let last = 0;
  for (let i = 0; i < position.length; i++) {
    if ((i & 0x3fff) === 0) checkpoint(i / position.length, "speckle");
    const place = (position[i]! - lowest) / spacing + reach;
    const first = Math.floor(place) - reach + 1;
    let sumReal = 0;
    let sumImaginary = 0;
    let power = 0;
    for (let k = first; k < first + 2 * reach; k++) {
      const weight = Math.exp(-(((place - k) / nodesPerLength) ** 2));
      sumReal += weight * real[k]!;
      sumImaginary += weight * imaginary[k]!;
      power += weight * weight;
    }
    const scale = contrast / Math.sqrt(2 * power);
    const x = steady + scale * sumReal;
    const y = scale * sumImaginary;
    amplitude[i] = Math.hypot(x, y);
    const angle = Math.atan2(y, x);
    if (i > 0) turns -= Math.round((angle - last) / (2 * Math.PI));
    last = angle;
    phase[i] = angle + 2 * Math.PI * turns;
  }
  return { amplitude, phase };
}
