import { fitNonlinear, type NonlinearFit } from "../fit/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { warn, type Warning } from "../result/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import { type MotionRows, motionRows, usualRows } from "./motion_rows.ts";
import { widenedByBlocks } from "./widened_covariance.ts";

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
  /**
   * Covariance of the parameters, widened where the model leaves more than noise
   * and where what it leaves hangs together.
   */
  readonly covariance: readonly (readonly number[])[];
  /** Noise left over that of the signal (1): 1 where the model is complete. */
  readonly excess: number;
  /** Root mean square of what the model leaves over that of the motion (1). */
  readonly unexplained: number;
  readonly converged: boolean;
  /** Times of the rows, in s, and what the model leaves there, in m. */
  readonly residualTimes: Float64Array;
  readonly residuals: Float64Array;
}

/**
 * Where the phase is doubtful and the model leaves more than this part of the
 * motion, the phase has slipped by fringes and the fit tells nothing: at a third
 * of this simulated ring-downs hold their uncertainty, at twice of it not.
 */
const mostUnexplained = 0.1;

/**
 * Misread places, and a height of the fringes that follows a drift, pull the same
 * way all along a record, which blocks do not show: where the phase is doubtful and
 * the model leaves more than noise, simulated ring-downs behind a capacitor lay up
 * to 5.4 of the uncertainties from blocks away from the truth.
 */
const doubtFactor = 2;
/** Noise over that of the signal from which on it is more (1). */
const leastExcess = 1.03;

/** What helps where the phase was lost. */
export const adviceOnDoubt =
  "record with DC coupling, or give 'couplingCorner' to measureDisplacement, and cut the part that moves by more than a fringe";

/**
 * The fit with its uncertainties widened where the phase is doubtful, and not
 * determined (`NaN`) where it was lost.
 */
export function withoutFalseCertainty<
  Fit extends Pick<MotionModelFit, "covariance" | "unexplained" | "excess">,
>(
  fit: Fit,
  displacement: Displacement,
): Fit & { readonly determined: boolean } {
  const { warnings, diagnostics: { doubtfulSamples } } = displacement;
  const warns = (code: string) => warnings.some((own) => own.code === code);
  // A loose fit follows a wrong reading without a misfit.
  const misread = doubtfulSamples > 0 || warns("loose-fit");
  const determined = !misread || fit.unexplained < mostUnexplained;
  const doubtful = misread || warns("height-changes");
  const factor = !determined
    ? NaN
    : doubtful && fit.excess > leastExcess
    ? doubtFactor ** 2
    : 1;
  const covariance = fit.covariance.map((row) =>
    row.map((value) => value * factor)
  );
  return { ...fit, covariance, determined };
}

/** Warning of a fit to a phase that was lost. */
export function warnOfLostPhase(
  fit: Pick<MotionModelFit, "unexplained">,
): Warning {
  return warn(
    "not-determined",
    `The phase of the fringes was lost on the way and the fit leaves ${
      (100 * fit.unexplained).toFixed(0)
    } % of the motion, so the values may be far off and have no uncertainty: ${adviceOnDoubt}`,
  );
}

/** Prior standard deviation of p, q and levels: they were fitted before. */
const loose = 0.2;

/** Mask of the rows between two checkpoints. */
const stride = 0xfff;

/** Relative change of all parameters below which a fit ends (1). */
const tolerance = 1e-8;

/** Limits of {@linkcode fitMotionModel}. */
interface MotionModelLimits {
  /** Smallest value of each parameter. */
  readonly lower?: readonly number[];
  /** Largest value of each parameter. */
  readonly upper?: readonly number[];
  /** Rows at most: few to choose a start, all to fit (1). */
  readonly mostRows?: number;
}

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
  { lower, upper, mostRows = usualRows }: MotionModelLimits = {},
): MotionModelFit {
  const { metresPerRadian } = displacement.diagnostics;
  checkpoint();
  const rows = motionRows(displacement, first, last, mostRows);
  checkpoint();
  const n = rows.time.length;
  const p = start.length;
  const open = rows.hasForm ? 4 : 0;
  // Rows n … n+3 hold the open parameters near 0.
  const total = n + open;
  const index = new Float64Array(total);
  for (let i = 0; i < total; i++) index[i] = i;
  const y = new Float64Array(total);
  y.set(rows.value);
  const sigma = new Float64Array(total).fill(rows.noise);
  for (let j = 0; j < open; j++) sigma[n + j] = loose;
  const evaluate = (parameters: readonly number[]) => {
    const values = new Float64Array(total);
    for (let i = 0; i < n; i++) {
      if ((i & stride) === stride) checkpoint();
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
      if ((i & stride) === stride) checkpoint();
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
  checkpoint();
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
      tolerance,
    },
  );
  const excess = Math.sqrt(fit.chiSquare / Math.max(1, n - p));
  const found = fit.parameters.map(({ value }) => value);
  checkpoint();
  const left = new Float64Array(n);
  for (let i = 0; i < n; i++) left[i] = fit.diagnostics.residuals[i]!;
  const covariance = widenedByBlocks(
    fit.covariance,
    Math.max(1, excess),
    jacobian(found),
    left,
    rows.noise,
  );
  checkpoint();
  const unexplained = unexplainedPart(rows, left);
  checkpoint();
  const residuals = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    residuals[i] = left[i]! / rows.weight[i]! * metresPerRadian;
  }
  return {
    parameters: found.slice(0, p),
    covariance: covariance.slice(0, p).map((row) => row.slice(0, p)),
    excess,
    unexplained,
    converged: fit.converged,
    residualTimes: rows.time,
    residuals,
  };
}

/** Root of the squares left over those of the motion about its mean (1). */
function unexplainedPart(rows: MotionRows, left: Float64Array): number {
  const { value, weight } = rows;
  let gg = 0, gy = 0, yy = 0, rr = 0;
  for (let i = 0; i < left.length; i++) {
    gg += weight[i]! ** 2;
    gy += weight[i]! * value[i]!;
    yy += value[i]! ** 2;
    rr += left[i]! ** 2;
  }
  return Math.sqrt(rr / Math.max(yy - gy * gy / gg, Number.MIN_VALUE));
}
