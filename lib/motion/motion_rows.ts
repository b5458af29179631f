import { checkpoint } from "../progress/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import { SampleSlopes } from "./sample_slopes.ts";

/**
 * What the samples say of a model x(t) of the motion, in rows of equal noise:
 * value = weight · x(t)/m-per-rad + Σ_j nuisance_j δ_j + noise, where the δ are
 * the changes of p, q and the two levels that the fringes leave open.
 */
export interface MotionRows {
  /** Time of each row, in s from the first sample. */
  readonly time: Float64Array;
  /** Factor of φ0 in the row (1/rad). */
  readonly weight: Float64Array;
  /** The row's value (1). */
  readonly value: Float64Array;
  /** Factors of δp, δq and the two levels (1). */
  readonly nuisance: readonly [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  /** Standard deviation of the noise of every row (1). */
  readonly noise: number;
  /** Whether the rows tell of the form of the fringes, in `nuisance`. */
  readonly hasForm: boolean;
}

/** Samples read at once. */
const chunk = 4096;

/** Rows of a fit, at most. */
export const usualRows = 16384;

/**
 * Rows for a fit of a model of the motion. Every sample is one row,
 * r + g φ0 = g x/m-per-rad - g sin φF δp - g cos φF δq + δb₀ + cos φF δb₁, with
 * the residual r and slope g of the displacement's spline; so a model is fitted
 * to the signal itself, to first order, and not to the smoothed displacement.
 * Neighbouring samples are put together where there are more than `mostRows`: a
 * motion that changes within such a group is not seen as it is.
 *
 * @param displacement A displacement.
 * @param first First sample.
 * @param last Last sample.
 * @param mostRows Rows at most (1).
 * @returns The rows.
 */
export function motionRows(
  displacement: Displacement,
  first: number,
  last: number,
  mostRows = usualRows,
): MotionRows {
  const { samplingRate } = displacement;
  const slopes = new SampleSlopes(displacement, chunk);
  const group = Math.max(1, Math.ceil((last - first + 1) / mostRows));
  const count = Math.floor((last - first + 1) / group);
  const time = new Float64Array(count);
  const weight = new Float64Array(count);
  const value = new Float64Array(count);
  const nuisance = [0, 1, 2, 3].map(() => new Float64Array(count)) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  const sums = new Float64Array(7);
  let rows = 0;
  let inGroup = 0;
  const end = first + count * group;
  for (let from = first; from < end; from += chunk) {
    const to = Math.min(end, from + chunk);
    checkpoint(NaN, "gather the samples");
    slopes.read(from, to);
    for (let k = 0; k < to - from; k++) {
      const w = slopes.weight[k]!;
      if (w > 0) {
        const g = slopes.slope[k]!;
        const cosine = slopes.cosine[k]!;
        const wg = w * g;
        const wgg = wg * g;
        sums[0]! += wgg;
        sums[1]! += wgg * (from + k);
        sums[2]! += wg * slopes.residual[k]! + wgg * slopes.phase[k]!;
        sums[3]! -= wgg * slopes.sine[k]!;
        sums[4]! -= wgg * cosine;
        sums[5]! += wg;
        sums[6]! += wg * cosine;
      }
      if (++inGroup < group) continue;
      inGroup = 0;
      const gg = sums[0]!;
      if (gg > 1e-9) {
        const root = Math.sqrt(gg);
        time[rows] = sums[1]! / gg / samplingRate;
        weight[rows] = root;
        value[rows] = sums[2]! / root;
        if (slopes.isSignal) {
          nuisance.forEach((column, j) => column[rows] = sums[3 + j]! / root);
        }
        rows++;
      }
      sums.fill(0);
    }
  }
  return {
    time: time.subarray(0, rows),
    weight: weight.subarray(0, rows),
    value: value.subarray(0, rows),
    nuisance: nuisance.map((column) => column.subarray(0, rows)) as [
      Float64Array,
      Float64Array,
      Float64Array,
      Float64Array,
    ],
    noise: slopes.noise,
    hasForm: slopes.isSignal,
  };
}
