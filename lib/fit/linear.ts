import {
  listOption,
  type Option,
  optional,
  optionOf,
  perPointOption,
  readOptions,
  requireList,
  requireNumbers,
} from "../options/mod.ts";
import { Matrix, QrDecomposition, SingularValueDecomposition } from "ml-matrix";
import {
  createResult,
  provenance,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { checkFinite, checkLength, checkPoints, perPoint } from "./checks.ts";
import {
  correlationTable,
  type FitParameter,
  type SquareTable,
} from "./parameter.ts";

/** Options of {@linkcode fitLinear}. */
export interface FitLinearOptions {
  /**
   * Standard uncertainty of each `y`, in the unit of `y`: one number for all or
   * one per point. They are taken as known, so the uncertainties of the
   * parameters come from them and not from the scatter.
   *
   * @default {null}
   */
  standardUncertainties?: number | ArrayLike<number> | null;
  /**
   * Relative weights, where only the ratio of the uncertainties is known; the
   * scatter about the fit sets the scale.
   *
   * @default {null}
   */
  weights?: ArrayLike<number> | null;
  /**
   * Names of the parameters.
   *
   * @default {["b1", "b2", …]}
   */
  names?: readonly string[];
  /**
   * SI units of the parameters.
   *
   * @default {["1", "1", …]}
   */
  units?: readonly string[];
}

export const linearSpec = {
  standardUncertainties: optional(
    perPointOption(
      optionOf.positive("Standard uncertainty of each `y`, in its unit."),
    ),
    null,
    "none, the scatter about the fit is the measure",
  ),
  weights: optional(
    listOption(
      "Relative weights, where only the ratio of the uncertainties is known.",
      optionOf.notNegative("Weight (1)."),
    ),
    null,
  ),
  names: optional(
    listOption("Names of the parameters.", optionOf.text("Name.")),
    undefined,
    "b1, b2 …",
  ),
  units: optional(
    listOption("SI units of the parameters.", optionOf.text("Unit.")),
    undefined,
    "1 each",
  ),
} satisfies Record<keyof FitLinearOptions, Option>;

/** A linear least-squares fit. */
export interface LinearFit extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "fit.linear";
  /** The parameters, one per column of the design. */
  readonly parameters: readonly FitParameter[];
  /** Covariances of the parameters. */
  readonly covariance: SquareTable;
  /** Correlations of the parameters (1). */
  readonly correlation: SquareTable;
  /** Sum of squared residuals, each divided by its standard uncertainty. */
  readonly chiSquare: number;
  /** Points minus parameters (1). */
  readonly degreesOfFreedom: number;
  /** √(χ²/ν): unit of `y` without known uncertainties, else 1. */
  readonly residualStandardDeviation: number;
  /** Share of the variation of `y` that the fit explains (1). */
  readonly rSquared: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Fitted values, in the unit of `y`. */
    readonly fitted: readonly number[];
    /** `y` minus fitted, in the unit of `y`. */
    readonly residuals: readonly number[];
    /** Leverage of each point, 0 to 1 (1). */
    readonly leverages: readonly number[];
    /** Condition number of the design with columns scaled to length 1 (1). */
    readonly conditionNumber: number;
  };
}

/**
 * Least-squares fit of y = Σ bⱼ Xᵢⱼ by Householder QR with columns scaled to
 * length 1 (Golub & Van Loan, Matrix Computations, 5.3), which keeps the digits
 * that the normal equations lose. Parameters that the design does not determine
 * are named; they are never given a silent zero.
 *
 * @param design One row per point, one column per parameter.
 * @param y The measured values.
 * @param options Uncertainties or weights, names and units.
 * @returns Parameters with standard uncertainties, covariance and residuals.
 * @throws {RangeError} If the sizes do not agree, there are fewer points than
 * parameters, or a number is not finite.
 *
 * @example
 * ```ts
 * import { fitLinear } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * const x = [0, 1, 2, 3, 4];
 * const y = x.map((x) => 1 + 2 * x + 3 * x * x);
 * const fit = fitLinear(x.map((x) => [1, x, x * x]), y);
 * expect(fit.parameters[2]!.value).toBeCloseTo(3, 10);
 * ```
 */
export function fitLinear(
  design: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  options: FitLinearOptions = {},
): LinearFit & Shown {
  const task = "fit a linear model";
  requireList(design, "design", task);
  requireNumbers(y, "y", task);
  for (const row of design) requireNumbers(row, "design[…]", task);
  const what = "fit a linear model";
  const read = readOptions(linearSpec, options, task);
  const { standardUncertainties, weights } = read;
  const n = y.length;
  checkLength(design, n, what, "design");
  const p = design[0]?.length ?? 0;
  checkPoints(n, Math.max(p, 1), what);
  design.forEach((row, i) => {
    checkLength(row, p, what, `design[${i}]`);
    checkFinite(row, what, `design[${i}]`);
  });
  checkFinite(y, what, "y");
  if (standardUncertainties !== null && weights !== null) {
    throw new RangeError(
      `Cannot ${what} with both 'standardUncertainties' and 'weights': give one of them`,
    );
  }
  const {
    names = Array.from({ length: p }, (_, j) => `b${j + 1}`),
    units = Array.from({ length: p }, () => "1"),
  } = read;
  checkLength(names, p, what, "names");
  checkLength(units, p, what, "units");

  const root = rootWeights(n, standardUncertainties, weights, what);
  const columnLength = new Float64Array(p);
  for (let j = 0; j < p; j++) {
    let sum = 0;
    for (let i = 0; i < n; i++) sum += (design[i]![j]! * root[i]!) ** 2;
    columnLength[j] = Math.sqrt(sum) || 1;
  }
  const scaled = new Matrix(n, p);
  const right = new Matrix(n, 1);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < p; j++) {
      scaled.set(i, j, design[i]![j]! * root[i]! / columnLength[j]!);
    }
    right.set(i, 0, y[i]! * root[i]!);
  }
  const { solution, inverse, determined, conditionNumber } = solveScaled(
    scaled,
    right,
  );

  const fitted: number[] = [];
  const residuals: number[] = [];
  const leverages: number[] = [];
  let chiSquare = 0;
  let mean = 0;
  let weightSum = 0;
  for (let i = 0; i < n; i++) {
    let value = 0;
    let leverage = 0;
    for (let j = 0; j < p; j++) {
      value += design[i]![j]! * solution[j]! / columnLength[j]!;
      for (let k = 0; k < p; k++) {
        leverage += scaled.get(i, j) * inverse[j]![k]! * scaled.get(i, k);
      }
    }
    fitted.push(value);
    residuals.push(y[i]! - value);
    leverages.push(Math.min(1, leverage));
    chiSquare += ((y[i]! - value) * root[i]!) ** 2;
    mean += root[i]! ** 2 * y[i]!;
    weightSum += root[i]! ** 2;
  }
  mean /= weightSum;
  let total = 0;
  for (let i = 0; i < n; i++) total += (root[i]! * (y[i]! - mean)) ** 2;

  const degreesOfFreedom = n - determined.filter(Boolean).length;
  const known = standardUncertainties !== null;
  const variance = degreesOfFreedom > 0 ? chiSquare / degreesOfFreedom : NaN;
  const scale = known ? 1 : variance;
  const covariance = inverse.map((row, j) =>
    row.map((value, k) =>
      determined[j] && determined[k]
        ? value * scale / (columnLength[j]! * columnLength[k]!)
        : NaN
    )
  );
  const warnings: Warning[] = [];
  const parameters = names.map((name, j): FitParameter => ({
    ...quantity(
      determined[j] ? solution[j]! / columnLength[j]! : NaN,
      Math.sqrt(covariance[j]![j]!),
      units[j]!,
      { degreesOfFreedom: known ? Infinity : degreesOfFreedom },
    ),
    name,
    note: determined[j] ? null : "not determined",
  }));
  for (const { name, note } of parameters) {
    if (note !== null) {
      warnings.push(warn(
        "not-determined",
        `The points do not determine '${name}': its column depends on the others. Leave it out or take points that tell them apart`,
      ));
    }
  }
  if (degreesOfFreedom === 0 && !known) {
    warnings.push(warn(
      "no-degrees-of-freedom",
      `The fit passes through all ${n} points, so the scatter says nothing of the uncertainty: take more points`,
    ));
  }
  return createResult({
    kind: "fit.linear" as const,
    parameters,
    covariance,
    correlation: correlationTable(covariance),
    chiSquare,
    degreesOfFreedom,
    residualStandardDeviation: Math.sqrt(variance),
    rSquared: 1 - chiSquare / total,
    warnings,
    provenance: provenance({
      method: "fitLinear",
      options: { names, units, knownUncertainties: known },
      sources: ["Golub & Van Loan, Matrix Computations, 5.3"],
    }),
    diagnostics: { fitted, residuals, leverages, conditionNumber },
  });
}

/** Square roots of the weights, from uncertainties or weights. */
function rootWeights(
  n: number,
  standardUncertainties: number | ArrayLike<number> | null,
  weights: ArrayLike<number> | null,
  what: string,
): Float64Array {
  if (standardUncertainties !== null) {
    return perPoint(standardUncertainties, n, what, "standardUncertainties")
      .map((u) => 1 / u);
  }
  if (weights !== null) {
    return perPoint(weights, n, what, "weights", true).map(Math.sqrt);
  }
  return new Float64Array(n).fill(1);
}

/** Solves a least-squares problem whose columns have length 1. */
function solveScaled(scaled: Matrix, right: Matrix) {
  const p = scaled.columns;
  const svd = new SingularValueDecomposition(scaled, { autoTranspose: true });
  const values = svd.diagonal;
  const largest = Math.max(...values);
  const smallest = Math.min(...values);
  const limit = largest * Number.EPSILON * Math.max(scaled.rows, p);
  const conditionNumber = largest / smallest;
  const v = svd.rightSingularVectors;
  if (smallest > limit) {
    const qr = new QrDecomposition(scaled);
    const solution = qr.solve(right).to1DArray();
    const inverse = Array.from(
      { length: p },
      (_, j) =>
        Array.from({ length: p }, (_, k) => {
          let sum = 0;
          for (let m = 0; m < p; m++) {
            sum += v.get(j, m) * v.get(k, m) / values[m]! ** 2;
          }
          return sum;
        }),
    );
    return {
      solution,
      inverse,
      determined: new Array<boolean>(p).fill(true),
      conditionNumber,
    };
  }
  // Rank deficient: a parameter is determined if no null vector touches it.
  const solution = new Array<number>(p).fill(0);
  const inverse = Array.from({ length: p }, () => new Array<number>(p).fill(0));
  const determined = new Array<boolean>(p).fill(true);
  const u = svd.leftSingularVectors;
  for (let m = 0; m < p; m++) {
    if (values[m]! > limit) {
      let projection = 0;
      for (let i = 0; i < scaled.rows; i++) {
        projection += u.get(i, m) * right.get(i, 0);
      }
      for (let j = 0; j < p; j++) {
        solution[j]! += v.get(j, m) * projection / values[m]!;
        for (let k = 0; k < p; k++) {
          inverse[j]![k]! += v.get(j, m) * v.get(k, m) / values[m]! ** 2;
        }
      }
    } else {
      for (let j = 0; j < p; j++) {
        if (Math.abs(v.get(j, m)) > 1e-6) determined[j] = false;
      }
    }
  }
  return { solution, inverse, determined, conditionNumber: Infinity };
}
