import { fitNonlinear, type NonlinearFit } from "../fit/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import { motionRows } from "./motion_rows.ts";

/** A model of the motion, in m, with its derivatives. */
export interface MotionModel {
  /** Displacement at one time, in m. */
  readonly value: (parameters: readonly number[], time: number) => number;
  /** Derivatives by each parameter at one time, written into `into`. */
  readonly derivatives: (
    parameters: readonly number[],
    time: number,
    into: Float64Array,
  ) => void;
}

/** A model of the motion fitted to the signal. */
export interface MotionModelFit {
  readonly parameters: readonly number[];
  /** Covariance of the parameters, widened where the model leaves more than noise. */
  readonly covariance: readonly (readonly number[])[];
  /** Noise left over that of the signal (1): 1 where the model is complete. */
  readonly excess: number;
  readonly converged: boolean;
  /** Times of the rows, in s, and what the model leaves there, in m. */
  readonly residualTimes: Float64Array;
  readonly residuals: Float64Array;
}

/** Prior standard deviation of p, q and levels: they were fitted before. */
const loose = 0.2;

/**
 * Fits a model of the motion to what the samples say, together with what the
 * fringes leave open of their own form.
 */
export function fitMotionModel(
  displacement: Displacement,
  model: MotionModel,
  start: readonly number[],
  first: number,
  last: number,
  lower?: readonly number[],
  upper?: readonly number[],
): MotionModelFit {
  const { metresPerRadian, trace } = displacement.diagnostics;
  const rows = motionRows(displacement, first, last);
  const n = rows.time.length;
  const p = start.length;
  const open = trace === null ? 0 : 4;
  // Rows n … n+3 hold the open parameters near 0.
  const total = n + open;
  const index = Float64Array.from({ length: total }, (_, i) => i);
  const y = new Float64Array(total);
  y.set(rows.value);
  const sigma = new Float64Array(total).fill(rows.noise);
  for (let j = 0; j < open; j++) sigma[n + j] = loose;
  const evaluate = (parameters: readonly number[]) => {
    const values = new Float64Array(total);
    for (let i = 0; i < n; i++) {
      let sum = rows.weight[i]! *
        model.value(parameters, rows.time[i]!) / metresPerRadian;
      for (let j = 0; j < open; j++) {
        sum += rows.nuisance[j]![i]! * parameters[p + j]!;
      }
      values[i] = sum;
    }
    for (let j = 0; j < open; j++) values[n + j] = parameters[p + j]!;
    return values;
  };
  const jacobian = (parameters: readonly number[]) => {
    const columns = Array.from(
      { length: p + open },
      () => new Float64Array(total),
    );
    const derivatives = new Float64Array(p);
    for (let i = 0; i < n; i++) {
      model.derivatives(parameters, rows.time[i]!, derivatives);
      const factor = rows.weight[i]! / metresPerRadian;
      for (let j = 0; j < p; j++) columns[j]![i] = factor * derivatives[j]!;
      for (let j = 0; j < open; j++) {
        columns[p + j]![i] = rows.nuisance[j]![i]!;
      }
    }
    for (let j = 0; j < open; j++) columns[p + j]![n + j] = 1;
    return columns;
  };
  const none = new Array<number>(open).fill(0);
  const fit: NonlinearFit = fitNonlinear(
    evaluate,
    index,
    y,
    [...start, ...none],
    {
      standardUncertainties: sigma,
      jacobian,
      lower: [...(lower ?? start.map(() => -Infinity)), ...none.map(() => -5)],
      upper: [...(upper ?? start.map(() => Infinity)), ...none.map(() => 5)],
      maximumIterations: 60,
    },
  );
  const excess = Math.sqrt(fit.chiSquare / Math.max(1, n - p));
  const widen = Math.max(1, excess) ** 2;
  const residuals = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    residuals[i] = fit.diagnostics.residuals[i]! / rows.weight[i]! *
      metresPerRadian;
  }
  return {
    parameters: fit.parameters.slice(0, p).map(({ value }) => value),
    covariance: fit.covariance.slice(0, p).map((row) =>
      row.slice(0, p).map((value) => value * widen)
    ),
    excess,
    converged: fit.converged,
    residualTimes: rows.time,
    residuals,
  };
}
