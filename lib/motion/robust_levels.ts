import { Matrix, solve } from "ml-matrix";
import { checkpoint } from "../progress/mod.ts";
import { quantile } from "./signal_scale.ts";

/** Residuals of Tukey's biweight, in robust standard deviations (1). */
const biweight = 4.685;
const rounds = 20;
/** The scatter has settled when it changes by less (1). */
const settled = 1e-3;
/** Median of the size of a normal value over its standard deviation (1). */
const medianSize = 0.6745;
/** Rows that hardly tell a coefficient hold it by so much of the whole (1). */
const held = 1e-9;

/** Coefficients through levels some of which belong to something else. */
export interface RobustLevels {
  readonly coefficients: Float64Array;
  /** Robust standard deviation of the levels about them, in their unit. */
  readonly scatter: number;
  /** Schwarz's criterion by the scatter: smaller is better. */
  readonly criterion: number;
}

type Rows = readonly (readonly number[])[];

/**
 * Linear least squares with Tukey's biweight: solves again and again, each level
 * weighed by how far it was off.
 *
 * @param rows What each level depends on, one row each, their sizes alike.
 * @param levels The levels.
 * @returns One coefficient per column, or `null` where the rows do not tell them.
 *
 * Source: Beaton, Tukey 1974, Technometrics 16, 147 (from memory); Schwarz 1978,
 * Ann. Statist. 6, 461.
 */
export function robustLevels(
  rows: Rows,
  levels: Float64Array,
): RobustLevels | null {
  const n = levels.length;
  let weights = new Float64Array(n).fill(1);
  let coefficients: Float64Array = new Float64Array(0);
  let scatter = Infinity;
  for (let round = 0; round < rounds; round++) {
    checkpoint(NaN, "look at the levels of the fringes");
    const found = weighted(rows, levels, weights);
    if (found === null) return null;
    coefficients = found;
    const left = levels.map((level, k) =>
      level - rows[k]!.reduce((sum, value, a) => sum + value * found[a]!, 0)
    );
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

/** Weighted least squares; `null` where the normal equations have no solution. */
function weighted(
  rows: Rows,
  levels: Float64Array,
  weights: Float64Array,
): Float64Array | null {
  const size = rows[0]!.length;
  const normal = Matrix.zeros(size, size);
  const right = Matrix.zeros(size, 1);
  rows.forEach((row, k) => {
    for (let a = 0; a < size; a++) {
      const w = weights[k]! * row[a]!;
      for (let b = 0; b < size; b++) {
        normal.set(a, b, normal.get(a, b) + w * row[b]!);
      }
      right.set(a, 0, right.get(a, 0) + w * levels[k]!);
    }
  });
  const least = held * normal.trace();
  for (let a = 0; a < size; a++) normal.set(a, a, normal.get(a, a) + least);
  try {
    return Float64Array.from(solve(normal, right).to1DArray());
  } catch {
    return null;
  }
}
