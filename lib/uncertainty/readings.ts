import { requireList, requireNumbers } from "../options/mod.ts";
/** Means of simultaneous readings, with covariance (type A). */
export interface ReadingStatistics {
  /** Mean of each quantity, in its unit. */
  readonly means: readonly number[];
  /** Standard uncertainty of each mean, in its unit. */
  readonly standardUncertainties: readonly number[];
  /** Correlations of the means (1). */
  readonly correlations: readonly (readonly number[])[];
  /** Readings minus 1 (1). */
  readonly degreesOfFreedom: number;
}

/**
 * Type A evaluation of quantities that were read together: means, standard
 * uncertainties of the means, and their correlations (JCGM 100:2008, eqs. 3, 5
 * and 17).
 *
 * @param readings One list of readings per quantity, all of the same length
 * (≥ 2).
 * @returns Means, uncertainties and correlations in the same order.
 * @throws {RangeError} If there are fewer than 2 readings or the lists differ in
 * length.
 *
 * @example
 * ```ts
 * import { readingStatistics } from "fringebook";
 * import { expect } from "vitest";
 *
 * const { means } = readingStatistics([[1, 2, 3], [2, 4, 6]]);
 * expect(means).toEqual([2, 4]);
 * ```
 */
export function readingStatistics(
  readings: readonly (readonly number[])[],
): ReadingStatistics {
  const task = "take the statistics of readings";
  requireList(readings, "readings", task);
  for (const list of readings) requireNumbers(list, "readings[…]", task);
  const n = readings[0]?.length ?? 0;
  if (n < 2 || readings.some((list) => list.length !== n)) {
    throw new RangeError(
      `Cannot average readings as each quantity needs the same number of at least 2 readings: current numbers are ${
        readings.map((list) => list.length).join(", ")
      }`,
    );
  }
  const means = readings.map((list) =>
    list.reduce((sum, value) => sum + value, 0) / n
  );
  const covariance = readings.map((a, i) =>
    readings.map((b, j) =>
      a.reduce(
        (sum, value, k) => sum + (value - means[i]!) * (b[k]! - means[j]!),
        0,
      ) / (n * (n - 1))
    )
  );
  return {
    means,
    standardUncertainties: means.map((_, i) => Math.sqrt(covariance[i]![i]!)),
    correlations: covariance.map((row, i) =>
      row.map((value, j) =>
        i === j ? 1 : value / Math.sqrt(covariance[i]![i]! * covariance[j]![j]!)
      )
    ),
    degreesOfFreedom: n - 1,
  };
}
