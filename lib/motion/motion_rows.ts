import { checkpoint } from "../progress/mod.ts";
import type { Displacement } from "./measure_displacement.ts";

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
}

/** Rows of a fit, at most. */
export const usualRows = 16384;

/**
 * Rows for a fit of a model of the motion. Every sample is one row,
 * r + g φ0 = g x/m-per-rad - g sin φF δp - g cos φF δq + δb₀ + cos φF δb₁, with
 * the residual r and slope g of the displacement's spline; so a model is fitted
 * to the signal itself, to first order, and not to the smoothed displacement.
 * Neighbouring samples are put together where there are very many.
 *
 * @param displacement A displacement with its trace, or a long one without.
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
  const { diagnostics, samplingRate } = displacement;
  const { metresPerRadian, relativeNoise, trace } = diagnostics;
  if (trace === null) return smoothedRows(displacement, first, last);
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
  const { residual, slope, weight: weights, feedbackPhase } = trace;
  let rows = 0;
  for (let k = 0; k < count; k++) {
    let gg = 0, ggt = 0, y = 0, n0 = 0, n1 = 0, n2 = 0, n3 = 0;
    for (let i = first + k * group; i < first + (k + 1) * group; i++) {
      const x = displacement.displacement[i]!;
      const w = weights[i]!;
      if (x !== x || !(w > 0)) continue;
      const g = slope[i]!;
      const theta = feedbackPhase[i]!;
      // Close to a fold the slope runs away and one step is not enough.
      if (Math.abs(Math.sin(theta)) < 0.2 * Math.abs(g)) continue;
      const cosine = Math.cos(theta);
      const wgg = w * g * g;
      gg += wgg;
      ggt += wgg * i;
      y += w * g * residual[i]! + wgg * x / metresPerRadian;
      n0 -= wgg * Math.sin(theta);
      n1 -= wgg * cosine;
      n2 += w * g;
      n3 += w * g * cosine;
    }
    if (!(gg > 1e-9)) continue;
    const root = Math.sqrt(gg);
    time[rows] = ggt / gg / samplingRate;
    weight[rows] = root;
    value[rows] = y / root;
    nuisance[0][rows] = n0 / root;
    nuisance[1][rows] = n1 / root;
    nuisance[2][rows] = n2 / root;
    nuisance[3][rows] = n3 / root;
    rows++;
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
    noise: Math.max(relativeNoise, 1e-7),
  };
}

/**
 * Rows of a long record, one per knot: the spline's values are taken as
 * independent from knot to knot, and the form of the fringe as known.
 */
function smoothedRows(
  displacement: Displacement,
  first: number,
  last: number,
): MotionRows {
  const { diagnostics, samplingRate, standardUncertainty } = displacement;
  const { metresPerRadian, knotSpacing } = diagnostics;
  const knot = Math.max(1, Math.round(knotSpacing * samplingRate));
  const count = Math.max(1, Math.floor((last - first + 1) / knot));
  const time = new Float64Array(count);
  const weight = new Float64Array(count);
  const value = new Float64Array(count);
  let rows = 0;
  for (let k = 0; k < count; k++) {
    if ((k & 0xffff) === 0xffff) checkpoint();
    const i = first + k * knot + (knot >> 1);
    const x = displacement.displacement[i]!;
    const u = standardUncertainty[i]! / metresPerRadian;
    if (!(u > 0) || x !== x) continue;
    time[rows] = i / samplingRate;
    weight[rows] = 1 / u;
    value[rows] = x / metresPerRadian / u;
    rows++;
  }
  const none = () => new Float64Array(rows);
  return {
    time: time.subarray(0, rows),
    weight: weight.subarray(0, rows),
    value: value.subarray(0, rows),
    nuisance: [none(), none(), none(), none()],
    noise: 1,
  };
}
