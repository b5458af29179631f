import {
  listOption,
  type Option,
  optional,
  optionOf,
  perPointOption,
  readOptions,
  requireNumber,
  requireNumbers,
  requireResult,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { checkFinite, checkLength, checkPoints, perPoint } from "./checks.ts";
import { chiSquareProbability } from "./distributions.ts";
import { fitLinear } from "./linear.ts";
import type { SquareTable } from "./parameter.ts";
import { yorkLine } from "./york_line.ts";

/** Options of {@linkcode fitLine}. */
export interface FitLineOptions {
  /**
   * Standard uncertainty of each `x`, in the unit of `x`: one number or one per
   * point. With it the line is fitted with errors in both axes, and
   * `standardUncertaintiesY` must be given too.
   *
   * @default {0}
   */
  standardUncertaintiesX?: number | ArrayLike<number>;
  /**
   * Standard uncertainty of each `y`, in the unit of `y`: one number or one per
   * point. `null` takes all points as equally good and the scatter as the
   * measure of it.
   *
   * @default {null}
   */
  standardUncertaintiesY?: number | ArrayLike<number> | null;
  /**
   * Relative weights of the points, where only their ratio is known.
   *
   * @default {null}
   */
  weights?: ArrayLike<number> | null;
  /**
   * Correlation of the errors of x and y of each point, between -1 and 1 (1).
   *
   * @default {0}
   */
  errorCorrelation?: number;
  /**
   * Whether known uncertainties are scaled so that χ²/ν becomes 1.
   *
   * @default {false}
   */
  scaleByScatter?: boolean;
  /**
   * SI unit of `x`.
   *
   * @default {"1"}
   */
  unitX?: string;
  /**
   * SI unit of `y`.
   *
   * @default {"1"}
   */
  unitY?: string;
}

export const lineSpec = {
  standardUncertaintiesX: optional(
    perPointOption(
      optionOf.notNegative("Standard uncertainty of each `x`, in its unit."),
    ),
    0,
  ),
  standardUncertaintiesY: optional(
    perPointOption(
      optionOf.notNegative("Standard uncertainty of each `y`, in its unit."),
    ),
    null,
    "none, the scatter about the line is the measure",
  ),
  weights: optional(
    listOption(
      "Relative weights, where only the ratio of the uncertainties is known.",
      optionOf.notNegative("Weight (1)."),
    ),
    null,
  ),
  errorCorrelation: optional(
    optionOf.between(
      "Correlation of the errors of x and y of each point (1).",
      -1,
      1,
    ),
    0,
  ),
  scaleByScatter: optional(
    optionOf.flag(
      "Whether known uncertainties are scaled so that χ²/ν becomes 1.",
    ),
    false,
  ),
  unitX: optional(optionOf.text("SI unit of `x`.", "m"), "1"),
  unitY: optional(optionOf.text("SI unit of `y`.", "m"), "1"),
} satisfies Record<keyof FitLineOptions, Option>;

export const predictSpec = {
  standardUncertainty: optional(
    optionOf.notNegative("Standard uncertainty of `x`, in its unit."),
    0,
  ),
};

/** A fitted straight line y = intercept + slope x. */
export interface LineFit extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "fit.line";
  /** Value at x = 0, in the unit of `y`. */
  readonly intercept: Quantity;
  /** Slope, in unit of `y` per unit of `x`. */
  readonly slope: Quantity;
  /** Correlation of intercept and slope (1). */
  readonly correlation: number;
  /** Covariances of intercept and slope, in that order. */
  readonly covariance: SquareTable;
  /** Sum of squared residuals, each divided by its standard uncertainty. */
  readonly chiSquare: number;
  /** Points minus 2 (1). */
  readonly degreesOfFreedom: number;
  /**
   * Probability of a χ² at least as large if the stated uncertainties are right
   * (1); `NaN` without stated uncertainties.
   */
  readonly chiSquareProbability: number;
  /** √(χ²/ν): unit of `y` without known uncertainties, else 1. */
  readonly residualStandardDeviation: number;
  /** Share of the variation of `y` that the line explains (1). */
  readonly rSquared: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** x of the points, in the unit of `x`. */
    readonly x: readonly number[];
    /** y of the points, in the unit of `y`. */
    readonly y: readonly number[];
    /** Value of the line at each `x`, in the unit of `y`. */
    readonly fitted: readonly number[];
    /** `y` minus fitted, in the unit of `y`. */
    readonly residuals: readonly number[];
    /**
     * Residual over its own standard deviation with the point left out of the
     * scatter (externally studentised) (1); follows Student's t with ν - 1.
     * With known uncertainties: residual over its known standard uncertainty.
     */
    readonly studentizedResiduals: readonly number[];
    /** Leverage of each point, 0 to 1 (1). */
    readonly leverages: readonly number[];
  };
}

/**
 * Fits a straight line y = a + b x. Without uncertainties, or with
 * uncertainties in y only, by linear least squares (JCGM 100:2008, H.3); with
 * uncertainties in both axes by the method of York et al., Am. J. Phys. 72, 367
 * (2004), eqs. 13a-13d.
 *
 * @param x The abscissas.
 * @param y The ordinates.
 * @param options Uncertainties, weights, units.
 * @returns Slope and intercept with standard uncertainties and covariance.
 * @throws {RangeError} If there are fewer than 2 points, the lengths differ, a
 * number is not finite or all `x` are equal.
 *
 * @example
 * ```ts
 * import { fitLine } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * const fit = fitLine([0.1, 0.2, 0.3], [10.1, 19.9, 30.0], { unitX: "m" });
 * expect(fit.slope.value).toBeCloseTo(99.5, 6);
 * expect(fit.slope.unit).toBe("1/m");
 * ```
 */
export function fitLine(
  x: ArrayLike<number>,
  y: ArrayLike<number>,
  options: FitLineOptions = {},
): LineFit & Shown {
  requireNumbers(x, "x", "fit a line");
  requireNumbers(y, "y", "fit a line");
  const {
    standardUncertaintiesX,
    standardUncertaintiesY,
    weights,
    errorCorrelation,
    scaleByScatter,
    unitX,
    unitY,
  } = readOptions(lineSpec, options, "fit a line");
  const what = "fit a line";
  const n = x.length;
  checkLength(y, n, what, "y");
  checkPoints(n, 2, what);
  checkFinite(x, what, "x");
  checkFinite(y, what, "y");
  const xs = Array.from(x);
  const ys = Array.from(y);
  if (xs.every((value) => value === xs[0])) {
    throw new RangeError(
      `Cannot fit a line as all 'x' are equal: current value is ${
        xs[0]
      }. Take points at different x`,
    );
  }
  const ux = perPoint(
    standardUncertaintiesX,
    n,
    what,
    "standardUncertaintiesX",
    true,
  );
  const bothAxes = ux.some((u) => u > 0);
  if (bothAxes && standardUncertaintiesY === null) {
    throw new RangeError(
      "Cannot fit a line with errors in both axes as 'standardUncertaintiesY' is missing: give it too (it may be 0)",
    );
  }
  if (bothAxes && weights !== null) {
    throw new RangeError(
      "Cannot fit a line with errors in both axes and 'weights': give standard uncertainties only",
    );
  }
  const known = standardUncertaintiesY !== null;
  const warnings: Warning[] = [];
  const degreesOfFreedom = n - 2;

  let intercept: number;
  let slope: number;
  let covariance: number[][];
  let chiSquare: number;
  let leverages: number[];
  let pointUncertainties: Float64Array | null = null;
  if (bothAxes) {
    const uy = perPoint(
      standardUncertaintiesY!,
      n,
      what,
      "standardUncertaintiesY",
      true,
    );
    const york = yorkLine(xs, ys, ux, uy, errorCorrelation);
    ({ intercept, slope, covariance, chiSquare, leverages } = york);
    pointUncertainties = york.pointUncertainties;
    if (!york.converged) {
      warnings.push(warn(
        "not-converged",
        `The line with errors in both axes did not settle after ${york.iterations} rounds: look at the points and their uncertainties`,
      ));
    }
  } else {
    // x is shifted to its mean, so that slope and mean are uncorrelated.
    const centre = xs.reduce((sum, value) => sum + value, 0) / n;
    const fit = fitLinear(xs.map((value) => [1, value - centre]), ys, {
      standardUncertainties: standardUncertaintiesY,
      weights,
    });
    slope = fit.parameters[1]!.value;
    intercept = fit.parameters[0]!.value - slope * centre;
    const [[v00, v01], [, v11]] = fit.covariance as [
      [number, number],
      [number, number],
    ];
    covariance = [
      [v00 - 2 * centre * v01 + centre * centre * v11, v01 - centre * v11],
      [v01 - centre * v11, v11],
    ];
    chiSquare = fit.chiSquare;
    leverages = [...fit.diagnostics.leverages];
    if (known) {
      pointUncertainties = perPoint(
        standardUncertaintiesY!,
        n,
        what,
        "standardUncertaintiesY",
      );
    }
  }
  const variance = degreesOfFreedom > 0 ? chiSquare / degreesOfFreedom : NaN;
  if (known && scaleByScatter) {
    covariance = covariance.map((row) => row.map((value) => value * variance));
  }
  if (degreesOfFreedom === 0 && !known) {
    warnings.push(warn(
      "no-degrees-of-freedom",
      "The line passes through both points, so the scatter says nothing of the uncertainty: take more points",
    ));
  }
  const fitted = xs.map((value) => intercept + slope * value);
  const residuals = ys.map((value, i) => value - fitted[i]!);
  const nu = known && !scaleByScatter ? Infinity : degreesOfFreedom;
  const ua = Math.sqrt(covariance[0]![0]!);
  const ub = Math.sqrt(covariance[1]![1]!);
  const mean = ys.reduce((sum, value) => sum + value, 0) / n;
  const total = ys.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return createResult({
    kind: "fit.line" as const,
    intercept: quantity(intercept, ua, unitY, { degreesOfFreedom: nu }),
    slope: quantity(
      slope,
      ub,
      unitX === "1" ? unitY : `${unitY}/${unitX}`,
      { degreesOfFreedom: nu },
    ),
    correlation: covariance[0]![1]! / (ua * ub),
    covariance,
    chiSquare,
    degreesOfFreedom,
    chiSquareProbability: known && degreesOfFreedom > 0
      ? 1 - chiSquareProbability(chiSquare, degreesOfFreedom)
      : NaN,
    residualStandardDeviation: Math.sqrt(variance),
    rSquared: 1 - residuals.reduce((sum, r) => sum + r * r, 0) / total,
    warnings,
    provenance: provenance({
      method: "fitLine",
      options: { bothAxes, known, errorCorrelation, scaleByScatter },
      sources: bothAxes
        ? ["York et al. 2004, eqs. 13a-13d"]
        : ["JCGM 100:2008, H.3"],
    }),
    diagnostics: {
      x: xs,
      y: ys,
      fitted,
      residuals,
      studentizedResiduals: studentize(
        residuals,
        leverages,
        pointUncertainties,
        chiSquare,
        weights,
      ),
      leverages,
    },
  });
}

/** Externally studentised residuals (Cook & Weisberg 1982, eq. 2.2.11, from memory). */
function studentize(
  residuals: readonly number[],
  leverages: readonly number[],
  known: Float64Array | null,
  chiSquare: number,
  weights: ArrayLike<number> | null,
): number[] {
  const nu = residuals.length - 2;
  return residuals.map((residual, i) => {
    const free = Math.max(0, 1 - leverages[i]!);
    if (known !== null) {
      return free < 1e-9 ? 0 : residual / (known[i]! * Math.sqrt(free));
    }
    const weighted = residual * Math.sqrt(weights?.[i] ?? 1);
    if (nu < 2 || free < 1e-9) return NaN;
    const others = (chiSquare - weighted * weighted / free) / (nu - 1);
    if (others <= 0) return weighted === 0 ? 0 : Math.sign(weighted) * Infinity;
    return weighted / Math.sqrt(others * free);
  });
}

/**
 * Value of a fitted line at an `x`, with the uncertainty of the line and of
 * that `x` (JCGM 100:2008, H.3.4).
 *
 * @param fit The line.
 * @param x The abscissa, in the unit of `x` of the fit.
 * @param options Standard uncertainty of `x`, in its unit (default 0).
 * @returns The value, in the unit of `y`.
 *
 * @example
 * ```ts
 * import { fitLine, predictLine } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * const fit = fitLine([1, 2, 3, 4], [2.1, 3.9, 6.1, 7.9]);
 * expect(predictLine(fit, 5).value).toBeCloseTo(9.9, 6);
 * ```
 */
export function predictLine(
  fit: LineFit,
  x: number,
  options: { standardUncertainty?: number } = {},
): Quantity {
  const task = "predict by a line";
  requireResult(fit, "fit.line", "a line", "fitLine(…)", task);
  requireNumber(x, "x", "1", task);
  const { standardUncertainty } = readOptions(predictSpec, options, task);
  const [[va, cab], [, vb]] = fit.covariance as [
    [number, number],
    [number, number],
  ];
  const variance = va + 2 * x * cab + x * x * vb +
    (fit.slope.value * standardUncertainty) ** 2;
  return quantity(
    fit.intercept.value + fit.slope.value * x,
    Math.sqrt(Math.max(0, variance)),
    fit.intercept.unit,
    { degreesOfFreedom: fit.slope.degreesOfFreedom },
  );
}
