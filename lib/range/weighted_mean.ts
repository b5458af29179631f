import { type Quantity, quantity } from "../result/mod.ts";

/** Uncertainties below this are numbers without noise. */
const leastUncertainty = 1e-9;

/**
 * Mean weighted by the squares of the standard uncertainties. Its own is that of the
 * weights, times the Birge ratio √(χ²/(n - 1)) where the values scatter more.
 *
 * Source: Birge, Phys. Rev. 40, 207 (1932).
 *
 * @param values The values, with standard uncertainties in their unit.
 * @param unit Their unit.
 * @returns The mean; `NaN` without a value.
 */
export function weightedMean(
  values: readonly { value: number; standardUncertainty: number }[],
  unit: string,
): Quantity {
  const known = values.filter(({ standardUncertainty }) =>
    Number.isFinite(standardUncertainty)
  );
  const n = known.length;
  if (n === 0) return quantity(NaN, NaN, unit);
  const weights = known.map(({ standardUncertainty }) =>
    Math.max(leastUncertainty, standardUncertainty) ** -2
  );
  const total = weights.reduce((sum, weight) => sum + weight, 0);
  const mean =
    known.reduce((sum, { value }, i) => sum + weights[i]! * value, 0) / total;
  const chiSquare = known.reduce(
    (sum, { value }, i) => sum + weights[i]! * (value - mean) ** 2,
    0,
  );
  const own = 1 / Math.sqrt(total);
  return n === 1 ? quantity(mean, own, unit) : quantity(
    mean,
    own * Math.max(1, Math.sqrt(chiSquare / (n - 1))),
    unit,
    { degreesOfFreedom: n - 1 },
  );
}
