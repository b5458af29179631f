import type { Quantity } from "../result/mod.ts";

/** Why a fitted parameter has no standard uncertainty. */
export type ParameterNote = "not determined" | "at bound" | "fixed";

/** One fitted parameter. */
export interface FitParameter extends Quantity {
  /** Name as given by the caller, or `b1`, `b2` … */
  readonly name: string;
  /**
   * Why there is no standard uncertainty (then `NaN`), or `null` where there is
   * one.
   */
  readonly note: ParameterNote | null;
}

/** Table of covariances or correlations: one row and column per parameter. */
export type SquareTable = readonly (readonly number[])[];

/** Correlations from covariances; `NaN` beside parameters without one. */
export function correlationTable(covariance: SquareTable): number[][] {
  return covariance.map((row, i) =>
    row.map((value, j) =>
      i === j && value > 0
        ? 1
        : value / Math.sqrt(covariance[i]![i]! * covariance[j]![j]!)
    )
  );
}
