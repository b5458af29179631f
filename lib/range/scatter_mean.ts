import { type Quantity, quantity } from "../result/mod.ts";

/**
 * Mean over the used strokes, both directions alike, with its scatter.
 *
 * @param values One per stroke (1); `null` does not count.
 * @param used Whether each stroke counts.
 * @returns The mean (1); `NaN` without a stroke.
 */
export function scatterMean(
  values: readonly (number | null)[],
  used: readonly boolean[],
): Quantity {
  const kept = values.filter((value, i): value is number =>
    value !== null && used[i]!
  );
  const n = kept.length;
  if (n === 0) return quantity(NaN, NaN, "1");
  const mean = kept.reduce((sum, value) => sum + value, 0) / n;
  const squares = kept.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return n === 1
    ? quantity(mean, NaN, "1")
    : quantity(mean, Math.sqrt(squares / (n - 1) / n), "1", {
      degreesOfFreedom: n - 1,
    });
}
