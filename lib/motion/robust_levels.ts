import { quantile } from "./signal_scale.ts";
import { checkpoint } from "../progress/mod.ts";

/** Residuals of Tukey's biweight, in robust standard deviations (1). */
const biweight = 4.685;
const rounds = 20;
/** The scatter has settled when it changes by less (1). */
const settled = 1e-3;
/** Median of the size of a normal value over its standard deviation (1). */
const medianSize = 0.6745;

/** Coefficients through levels some of which belong to something else. */
export interface RobustLevels {
  readonly coefficients: Float64Array;
  /** Robust standard deviation of the levels about them, in their unit. */
  readonly scatter: number;
  /** Schwarz's criterion by the scatter: smaller is better. */
  readonly criterion: number;
}

/**
 * Least squares with Tukey's biweight: solves again and again, each level weighed by
 * how far it was off.
 *
 * @param levels The levels.
 * @param solve Coefficients for weights (1), `null` where they are not told.
 * @param fitted Level that coefficients give at one of the places.
 * @returns The coefficients, or `null`.
 *
 * Source: Beaton, Tukey 1974, Technometrics 16, 147 (from memory); Schwarz 1978,
 * Ann. Statist. 6, 461.
 */
export function robustLevels(
  levels: Float64Array,
  solve: (weights: Float64Array) => Float64Array | null,
  fitted: (coefficients: Float64Array, k: number) => number,
): RobustLevels | null {
  const n = levels.length;
  let weights = new Float64Array(n).fill(1);
  let coefficients: Float64Array = new Float64Array(0);
  let scatter = Infinity;
  for (let round = 0; round < rounds; round++) {
    checkpoint(NaN, "look at the levels of the fringes");
    const found = solve(weights);
    if (found === null) return null;
    coefficients = found;
    const left = levels.map((level, k) => level - fitted(found, k));
    const before = scatter;
    scatter = quantile(left.map(Math.abs), 0.5) / medianSize;
    if (!(scatter > 0)) return null;
    if (Math.abs(scatter - before) < settled * scatter) break;
    weights = left.map((value) => {
      const u = value / (biweight * scatter);
      return Math.abs(u) < 1 ? (1 - u * u) ** 2 : 0;
    });
  }
  return {
    coefficients,
    scatter,
    criterion: 2 * n * Math.log(scatter) + coefficients.length * Math.log(n),
  };
}
