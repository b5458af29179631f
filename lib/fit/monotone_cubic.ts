import { requireNumbers } from "../options/mod.ts";

/** A smooth curve through points that rises and falls only where they do. */
export interface MonotoneCubic {
  /** Places of the points, rising. */
  readonly x: Float64Array;
  /** Values of the points. */
  readonly y: Float64Array;
  /** Value at a place; beyond the ends, that of the end. */
  at(x: number): number;
  /** Slope at a place; beyond the ends, 0. */
  slopeAt(x: number): number;
}

/**
 * A curve through points by cubic pieces that have no extreme between points: the
 * slopes at the points are weighted harmonic means of the neighbouring chords,
 * and 0 where these differ in sign; at the ends, one-sided three-point slopes
 * that keep the shape.
 *
 * Source: Fritsch and Butland 1984, SIAM J. Sci. Stat. Comput. 5, 300 (from
 * memory).
 *
 * @param x Places of the points, strictly rising; at least two.
 * @param y Values of the points.
 * @returns The curve.
 * @throws {RangeError} If there are fewer than two points, the lists differ in
 * length, or the places do not rise.
 *
 * @example
 * ```ts
 * import { monotoneCubic } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * const curve = monotoneCubic([0, 1, 2], [0, 1, 1]);
 * expect(curve.at(1.5)).toBe(1);
 * ```
 */
export function monotoneCubic(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
): MonotoneCubic {
  const task = "draw a monotone curve";
  requireNumbers(x, "x", task);
  requireNumbers(y, "y", task);
  const count = x.length;
  if (count < 2 || y.length !== count) {
    throw new RangeError(
      `Cannot ${task} as it needs at least two points with as many values: got ${count} places and ${y.length} values`,
    );
  }
  const step = new Float64Array(count - 1);
  const chord = new Float64Array(count - 1);
  for (let k = 0; k < count - 1; k++) {
    step[k] = x[k + 1]! - x[k]!;
    if (!(step[k]! > 0)) {
      throw new RangeError(
        `Cannot ${task} as the places must rise: place ${k + 1} is ${
          x[k + 1]
        } behind ${x[k]}`,
      );
    }
    chord[k] = (y[k + 1]! - y[k]!) / step[k]!;
  }
  const slope = slopesOf(step, chord);
  const places = Float64Array.from(x);
  const values = Float64Array.from(y);
  const pieceOf = (at: number) => {
    let [low, high] = [0, count - 2];
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (places[middle]! <= at) low = middle;
      else high = middle - 1;
    }
    return low;
  };
  return {
    x: places,
    y: values,
    at(at) {
      if (at <= places[0]!) return values[0]!;
      if (at >= places[count - 1]!) return values[count - 1]!;
      const k = pieceOf(at);
      const [h, d] = [step[k]!, chord[k]!];
      const t = at - places[k]!;
      const [first, last] = [slope[k]!, slope[k + 1]!];
      const quadratic = (3 * d - 2 * first - last) / h;
      const cubic = (first + last - 2 * d) / (h * h);
      return values[k]! + t * (first + t * (quadratic + t * cubic));
    },
    slopeAt(at) {
      if (at < places[0]! || at > places[count - 1]!) return 0;
      const k = pieceOf(at);
      const [h, d] = [step[k]!, chord[k]!];
      const t = at - places[k]!;
      const [first, last] = [slope[k]!, slope[k + 1]!];
      const quadratic = (3 * d - 2 * first - last) / h;
      const cubic = (first + last - 2 * d) / (h * h);
      return first + t * (2 * quadratic + 3 * t * cubic);
    },
  };
}

function slopesOf(step: Float64Array, chord: Float64Array): Float64Array {
  const count = step.length + 1;
  const slope = new Float64Array(count);
  if (count === 2) return slope.fill(chord[0]!);
  for (let k = 1; k < count - 1; k++) {
    const [before, after] = [chord[k - 1]!, chord[k]!];
    if (before * after <= 0) continue;
    const first = 2 * step[k]! + step[k - 1]!;
    const second = step[k]! + 2 * step[k - 1]!;
    slope[k] = (first + second) / (first / before + second / after);
  }
  slope[0] = endSlope(step[0]!, step[1]!, chord[0]!, chord[1]!);
  slope[count - 1] = endSlope(
    step[count - 2]!,
    step[count - 3]!,
    chord[count - 2]!,
    chord[count - 3]!,
  );
  return slope;
}

/** One-sided three-point slope at an end, kept to the shape of the points. */
function endSlope(h: number, next: number, d: number, nextChord: number) {
  const slope = ((2 * h + next) * d - h * nextChord) / (h + next);
  if (slope * d <= 0) return 0;
  if (d * nextChord <= 0 && Math.abs(slope) > 3 * Math.abs(d)) return 3 * d;
  return slope;
}
