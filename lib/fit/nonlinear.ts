import {
  functionOption,
  handedOption,
  listOption,
  type Option,
  optional,
  optionOf,
  perPointOption,
  readOptions,
  requireFunction,
  requireList,
  requireNumbers,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
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
import { levenbergMarquardt } from "./levenberg_marquardt.ts";
import {
  correlationTable,
  type FitParameter,
  type ParameterNote,
  type SquareTable,
} from "./parameter.ts";

/**
 * A model to fit: all predicted values at once. See {@linkcode pointwise} for a
 * model written for one point.
 */
export type Model = (
  parameters: readonly number[],
  x: ArrayLike<number>,
) => ArrayLike<number>;

/**
 * Makes a {@linkcode Model} from a function of one point.
 *
 * @param f Predicted value at one `x`.
 * @returns The model.
 *
 * @example
 * ```ts
 * import { pointwise } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * const decay = pointwise(([a, rate], x) => a! * Math.exp(-rate! * x));
 * expect(decay([2, 0], [0, 1])).toEqual(Float64Array.of(2, 2));
 * ```
 */
export function pointwise(
  f: (parameters: readonly number[], x: number) => number,
): Model {
  requireFunction(f, "f", "make a model of single points");
  return (parameters, x) => {
    const values = new Float64Array(x.length);
    for (let i = 0; i < x.length; i++) {
      if ((i & 0x3fff) === 0x3fff) checkpoint();
      values[i] = f(parameters, x[i]!);
    }
    return values;
  };
}

/** Options of {@linkcode fitNonlinear}. */
export interface FitNonlinearOptions {
  /**
   * Standard uncertainty of each `y`, in its unit: one number or one per point.
   * They are taken as known; `null` takes the scatter as the measure.
   *
   * @default {null}
   */
  standardUncertainties?: number | ArrayLike<number> | null;
  /**
   * Smallest value of each parameter, in its unit.
   *
   * @default {[-Infinity, …]}
   */
  lower?: readonly number[];
  /**
   * Largest value of each parameter, in its unit.
   *
   * @default {[Infinity, …]}
   */
  upper?: readonly number[];
  /**
   * Whether each parameter keeps its start value.
   *
   * @default {[false, …]}
   */
  fixed?: readonly boolean[];
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
  /**
   * Derivatives of the model by each parameter, one list per parameter; `null`
   * takes them by central differences.
   *
   * @default {null}
   */
  jacobian?:
    | ((
      parameters: readonly number[],
      x: ArrayLike<number>,
    ) => readonly ArrayLike<number>[])
    | null;
  /**
   * Most iterations (1).
   *
   * @default {1000}
   */
  maximumIterations?: number;
  /**
   * The iteration ends when the relative change of every parameter is below
   * this (1).
   *
   * @default {1e-10}
   */
  tolerance?: number;
}

/** Any number, infinite ones too: no bound. */
const bound = handedOption<number>(
  "Bound of a parameter, in its unit.",
  "a number",
  (value) => typeof value === "number" && !Number.isNaN(value),
);

export const nonlinearSpec = {
  standardUncertainties: optional(
    perPointOption(
      optionOf.positive("Standard uncertainty of each `y`, in its unit."),
    ),
    null,
    "none, the scatter about the fit is the measure",
  ),
  lower: optional(
    listOption("Smallest value of each parameter, in its unit.", bound),
    undefined,
    "none",
  ),
  upper: optional(
    listOption("Largest value of each parameter, in its unit.", bound),
    undefined,
    "none",
  ),
  fixed: optional(
    listOption(
      "Whether each parameter keeps its start value.",
      optionOf.flag("Whether it does."),
    ),
    undefined,
    "none does",
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
  jacobian: optional(
    functionOption<NonNullable<FitNonlinearOptions["jacobian"]>>(
      "Derivatives of the model by each parameter, one list per parameter.",
    ),
    null,
    "central differences",
  ),
  maximumIterations: optional(
    optionOf.whole("Most iterations (1).", { least: 0 }),
    1000,
  ),
  tolerance: optional(
    optionOf.notNegative(
      "The iteration ends when the relative change of every parameter is below this (1).",
    ),
    1e-10,
  ),
} satisfies Record<keyof FitNonlinearOptions, Option>;

/** A nonlinear least-squares fit. */
export interface NonlinearFit extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "fit.nonlinear";
  /** The parameters in the order of the start values. */
  readonly parameters: readonly FitParameter[];
  /** Covariances of the parameters; 0 where held, `NaN` where undetermined. */
  readonly covariance: SquareTable;
  /** Correlations of the parameters (1). */
  readonly correlation: SquareTable;
  /** Sum of squared residuals, each divided by its standard uncertainty. */
  readonly chiSquare: number;
  /** Points minus free parameters (1). */
  readonly degreesOfFreedom: number;
  /** √(χ²/ν): unit of `y` without known uncertainties, else 1. */
  readonly residualStandardDeviation: number;
  /** Whether the iteration settled. A settled fit may still be a local one. */
  readonly converged: boolean;
  /** Why the iteration ended, in plain words. */
  readonly reason: string;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Fitted values, in the unit of `y`. */
    readonly fitted: readonly number[];
    /** `y` minus fitted, in the unit of `y`. */
    readonly residuals: readonly number[];
    /** Iterations done (1). */
    readonly iterations: number;
    /** Start values, in the units of the parameters. */
    readonly start: readonly number[];
  };
}

/**
 * Nonlinear least-squares fit by Levenberg–Marquardt (Moré 1978), with
 * covariance from the Jacobian at the end: V = (JᵀJ)⁻¹, scaled by χ²/ν unless
 * the uncertainties of the points are known.
 *
 * @param model All predicted values from parameters and `x`.
 * @param x The abscissas, handed to the model.
 * @param y The measured values.
 * @param start Start values of the parameters.
 * @param options Uncertainties, bounds, names, units, derivatives, limits.
 * @returns Parameters with standard uncertainties, covariance, convergence.
 * @throws {RangeError} If the sizes do not agree, there are fewer points than
 * free parameters, a number is not finite, or the model is not finite at the
 * start.
 *
 * @example
 * ```ts
 * import { fitNonlinear, pointwise } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * const t = [0, 1, 2, 3, 4, 5];
 * const y = t.map((t) => 3 * Math.exp(-0.5 * t));
 * const decay = pointwise(([a, rate], t) => a! * Math.exp(-rate! * t));
 * const fit = fitNonlinear(decay, t, y, [1, 1], { names: ["a", "rate"] });
 * expect(fit.parameters[1]!.value).toBeCloseTo(0.5, 8);
 * expect(fit.converged).toBe(true);
 * ```
 */
export function fitNonlinear(
  model: Model,
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  start: readonly number[],
  options: FitNonlinearOptions = {},
): NonlinearFit & Shown {
  const task = "fit a nonlinear model";
  requireFunction(model, "model", task);
  requireList(x, "x", task);
  requireNumbers(y, "y", task);
  requireNumbers(start, "start", task);
  const p = start.length;
  const {
    standardUncertainties,
    lower = new Array<number>(p).fill(-Infinity),
    upper = new Array<number>(p).fill(Infinity),
    fixed = new Array<boolean>(p).fill(false),
    names = Array.from({ length: p }, (_, j) => `b${j + 1}`),
    units = new Array<string>(p).fill("1"),
    jacobian,
    maximumIterations,
    tolerance,
  } = readOptions(nonlinearSpec, options, task);
  checkpoint();
  const what = "fit a nonlinear model";
  const n = y.length;
  const known = standardUncertainties !== null;
  checkFinite(y, what, "y");
  checkFinite(start, what, "start");
  checkLength(lower, p, what, "lower");
  checkLength(upper, p, what, "upper");
  checkLength(names, p, what, "names");
  checkLength(units, p, what, "units");
  checkLength(fixed, p, what, "fixed");
  const free = fixed.flatMap((isFixed, j) => isFixed ? [] : [j]);
  checkPoints(n, Math.max(1, free.length), what);
  lower.forEach((low, j) => {
    if (!(low <= upper[j]!)) {
      throw new RangeError(
        `Cannot ${what} as 'lower' is above 'upper' for '${
          names[j]
        }': ${low} and ${upper[j]}`,
      );
    }
  });
  checkpoint();
  const root = known
    ? perPoint(standardUncertainties, n, what, "standardUncertainties")
    : new Float64Array(n).fill(1);
  checkpoint();
  if (known) { for (let i = 0; i < n; i++) root[i] = 1 / root[i]!; }

  const whole = (inner: readonly number[]) => {
    const parameters = [...start];
    free.forEach((j, a) => parameters[j] = inner[a]!);
    return parameters;
  };
  const evaluate = (parameters: readonly number[]) => {
    const values = model(parameters, x);
    if (values.length !== n) {
      throw new RangeError(
        `Cannot ${what} as the model gives ${values.length} values for ${n} points`,
      );
    }
    return values;
  };
  const solution = levenbergMarquardt({
    start: free.map((j) => start[j]!),
    lower: free.map((j) => lower[j]!),
    upper: free.map((j) => upper[j]!),
    maximumIterations,
    tolerance,
    // Central differences are right to about 1e-10 of the model.
    derivativeError: jacobian === null ? 1e-9 : 1e-14,
    residuals: (inner) => {
      const values = evaluate(whole(inner));
      const residuals = new Float64Array(n);
      for (let i = 0; i < n; i++) {
        residuals[i] = (y[i]! - values[i]!) * root[i]!;
      }
      return residuals;
    },
    jacobian: (inner) => {
      const parameters = whole(inner);
      if (jacobian !== null) {
        const columns = jacobian(parameters, x);
        return free.map((j) => productOf(columns[j]!, root));
      }
      return free.map((j) =>
        centralDifference(
          evaluate,
          parameters,
          j,
          root,
          lower[j]!,
          upper[j]!,
        )
      );
    },
  });

  const parameters = whole(solution.parameters);
  const values = evaluate(parameters);
  const fitted: number[] = [];
  for (let i = 0; i < n; i++) {
    if ((i & 0xffff) === 0xffff) checkpoint();
    fitted.push(values[i]!);
  }
  const degreesOfFreedom = n - free.length;
  const variance = degreesOfFreedom > 0
    ? solution.chiSquare / degreesOfFreedom
    : NaN;
  const scale = known ? 1 : variance;
  const notes: (ParameterNote | null)[] = fixed.map((isFixed) =>
    isFixed ? "fixed" : null
  );
  const covariance = start.map(() => new Array<number>(p).fill(0));
  free.forEach((j, a) => {
    if (solution.atBound[a]) notes[j] = "at bound";
    else if (!solution.determined[a]) notes[j] = "not determined";
  });
  free.forEach((j, a) =>
    free.forEach((k, b) => {
      covariance[j]![k] = notes[j] === "not determined" ||
          notes[k] === "not determined"
        ? NaN
        : solution.inverse[a]![b]! * scale;
    })
  );
  checkpoint();
  const warnings = fitWarnings(solution, names, notes, degreesOfFreedom, known);
  return createResult({
    kind: "fit.nonlinear" as const,
    parameters: names.map((name, j): FitParameter => ({
      ...quantity(
        parameters[j]!,
        notes[j] === null ? Math.sqrt(covariance[j]![j]!) : NaN,
        units[j]!,
        { degreesOfFreedom: known ? Infinity : degreesOfFreedom },
      ),
      name,
      note: notes[j]!,
    })),
    covariance,
    correlation: correlationTable(covariance),
    chiSquare: solution.chiSquare,
    degreesOfFreedom,
    residualStandardDeviation: Math.sqrt(variance),
    converged: solution.converged,
    reason: solution.reason,
    warnings,
    provenance: provenance({
      method: "fitNonlinear",
      options: { names, units, fixed, maximumIterations, tolerance },
      sources: ["Moré 1978, Lecture Notes in Mathematics 630, 105"],
    }),
    diagnostics: {
      fitted,
      residuals: fitted.map((value, i) => y[i]! - value),
      iterations: solution.iterations,
      start: [...start],
    },
  });
}

function fitWarnings(
  solution: { converged: boolean; reason: string },
  names: readonly string[],
  notes: readonly (ParameterNote | null)[],
  degreesOfFreedom: number,
  known: boolean,
): Warning[] {
  const warnings: Warning[] = [];
  if (!solution.converged) {
    warnings.push(warn(
      "not-converged",
      `The fit did not settle (${solution.reason}): give better start values or a simpler model`,
    ));
  }
  notes.forEach((note, j) => {
    if (note === "at bound") {
      warnings.push(warn(
        "at-bound",
        `'${
          names[j]
        }' ended at its bound, so it has no uncertainty: widen the bound or fix the parameter`,
      ));
    } else if (note === "not determined") {
      warnings.push(warn(
        "not-determined",
        `The points do not determine '${
          names[j]
        }': fix it, or take points where it matters`,
      ));
    }
  });
  if (degreesOfFreedom === 0 && !known) {
    warnings.push(warn(
      "no-degrees-of-freedom",
      "There are as many parameters as points, so the scatter says nothing of the uncertainty: take more points",
    ));
  }
  return warnings;
}

/** Products of the values of two lists, one by one. */
function productOf(a: ArrayLike<number>, b: Float64Array): Float64Array {
  checkpoint();
  const products = new Float64Array(b.length);
  for (let i = 0; i < b.length; i++) products[i] = a[i]! * b[i]!;
  return products;
}

/** Derivative by one parameter; step ∛ε of its size, inside the bounds. */
function centralDifference(
  evaluate: (parameters: readonly number[]) => ArrayLike<number>,
  parameters: readonly number[],
  j: number,
  root: Float64Array,
  lower: number,
  upper: number,
): Float64Array {
  const value = parameters[j]!;
  const step = 6e-6 * (Math.abs(value) || 1e-3);
  const above = [...parameters];
  const below = [...parameters];
  above[j] = Math.min(upper, value + step);
  below[j] = Math.max(lower, value - step);
  const width = above[j]! - below[j]!;
  const column = new Float64Array(root.length);
  if (width === 0) return column;
  const high = evaluate(above);
  const low = evaluate(below);
  for (let i = 0; i < column.length; i++) {
    column[i] = (high[i]! - low[i]!) / width * root[i]!;
  }
  return column;
}
