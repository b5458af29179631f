/**
 * Standard deviation of residuals from their median size, 1.4826 |r|, which a few
 * wild ones do not change.
 *
 * @param residuals The residuals.
 * @param weight Those of weight 0 do not count.
 * @returns In the unit of the residuals; `NaN` where none counts.
 */
export function robustDeviation(
  residuals: Float64Array,
  weight: Float64Array,
): number {
  const sizes = residuals.filter((_, i) => weight[i]! > 0).map(Math.abs).sort();
  return 1.4826 * sizes[sizes.length >> 1]!;
}

/**
 * Weights of Huber 1964: as given up to a limit, and beyond it falling as the
 * limit over the residual.
 *
 * @param residuals The residuals.
 * @param weight Their weights.
 * @param limit In the unit of the residuals.
 * @returns One weight per residual.
 */
export function huberWeights(
  residuals: Float64Array,
  weight: Float64Array,
  limit: number,
): Float64Array {
  return residuals.map((r, i) =>
    weight[i]! * Math.min(1, limit / Math.max(1e-300, Math.abs(r)))
  );
}
