import {
  fitLine,
  fitLinear,
  predictLine,
  studentProbability,
  studentQuantile,
} from "../fit/mod.ts";

/** How far a point lies from the line through the others. */
export interface ReferenceCheck {
  /** Difference over its standard deviation (1); Student's t with n - 3. */
  readonly studentizedResidual: number;
  /** Whether it is too far for chance. */
  readonly outlier: boolean;
}

/**
 * Checks each point against the line through the others (Cook & Weisberg 1982,
 * 2.2): flagged if its studentised residual is beyond the two-sided 1 % limit
 * for the largest of n, by the scatter of the others, and also beyond 3 of its
 * stated standard uncertainties; or beyond 4 of those and the two-sided 1 %
 * limit for a single point, or beyond 6 and the 5 % limit. The worst is set aside and the rest checked again,
 * so that two bad points cannot hide one another.
 */
export function findOutliers(
  x: readonly number[],
  y: readonly number[],
  ux: readonly number[],
  uy: readonly number[],
): ReferenceCheck[] {
  const n = x.length;
  const outlier = new Array<boolean>(n).fill(false);
  let residuals = new Array<number>(n).fill(NaN);
  for (let round = 0; round <= Math.max(1, Math.floor(n / 3)); round++) {
    const kept = x.flatMap((_, i) => outlier[i] ? [] : [i]);
    if (kept.length < 5) break;
    let worst = -1;
    let excess = 1;
    const checks = x.map((_, i) => {
      const others = kept.filter((k) => k !== i);
      return compare(i, others, x, y, ux, uy);
    });
    residuals = checks.map(({ t }) => t);
    const freedom = kept.length - 3;
    const limit = studentQuantile(1 - 0.005 / kept.length, freedom);
    const single = studentQuantile(0.995, freedom);
    const loose = studentQuantile(0.975, freedom);
    for (const i of kept) {
      const { t, z } = checks[i]!;
      const [at, az] = [Math.abs(t), Math.abs(z)];
      const ratio = Math.max(
        Math.min(at / limit, az / 3),
        Math.min(at / single, az / 4),
        Math.min(at / loose, az / 6),
      );
      if (ratio > excess) [worst, excess] = [i, ratio];
    }
    if (worst < 0) break;
    outlier[worst] = true;
  }
  return x.map((_, i) => ({
    studentizedResidual: residuals[i]!,
    outlier: outlier[i]!,
  }));
}

function compare(
  i: number,
  others: readonly number[],
  x: readonly number[],
  y: readonly number[],
  ux: readonly number[],
  uy: readonly number[],
) {
  const line = fitLine(others.map((k) => x[k]!), others.map((k) => y[k]!), {
    standardUncertaintiesX: others.map((k) => ux[k]!),
    standardUncertaintiesY: others.map((k) => uy[k]!),
  });
  const predicted = predictLine(line, x[i]!, { standardUncertainty: ux[i]! });
  const deviation = Math.hypot(predicted.standardUncertainty, uy[i]!);
  const z = (y[i]! - predicted.value) / deviation;
  return { z, t: z / line.residualStandardDeviation };
}

/** Tests whether a parabola fits the points better than the line. */
export function testLinearity(
  x: readonly number[],
  y: readonly number[],
  ux: readonly number[],
  uy: readonly number[],
  slope: number,
) {
  const none = { curvature: NaN, standardUncertainty: NaN, probability: NaN };
  if (x.length < 4) return none;
  const centre = x.reduce((sum, value) => sum + value, 0) / x.length;
  const fit = fitLinear(
    x.map((value) => [1, value - centre, (value - centre) ** 2]),
    y,
    { weights: x.map((_, i) => 1 / (uy[i]! ** 2 + (slope * ux[i]!) ** 2)) },
  );
  const { value, standardUncertainty, note } = fit.parameters[2]!;
  if (note !== null) return none;
  const t = Math.abs(value / standardUncertainty);
  return {
    curvature: value,
    standardUncertainty,
    probability: 2 * (1 - studentProbability(t, fit.degreesOfFreedom)),
  };
}
