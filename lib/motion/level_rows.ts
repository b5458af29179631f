import { Matrix, solve } from "ml-matrix";
import { type RobustLevels, robustLevels } from "./robust_levels.ts";

/**
 * Robust linear least squares through levels.
 *
 * @param rows What each level depends on, one row each, their sizes alike.
 * @param levels The levels.
 * @returns One coefficient per column, or `null` where the rows do not tell them.
 */
export function throughLevels(
  rows: readonly (readonly number[])[],
  levels: Float64Array,
): RobustLevels | null {
  const size = rows[0]!.length;
  const solved = (weights: Float64Array) => {
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
    // Swings that do not cover a period do not tell its sines: held a little.
    const held = 1e-9 * normal.trace();
    for (let a = 0; a < size; a++) normal.set(a, a, normal.get(a, a) + held);
    try {
      return Float64Array.from(solve(normal, right).to1DArray());
    } catch {
      return null;
    }
  };
  return robustLevels(
    levels,
    solved,
    (coefficients, k) =>
      rows[k]!.reduce((sum, value, a) => sum + value * coefficients[a]!, 0),
  );
}
