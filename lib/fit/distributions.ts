// @ts-types="./jstat_types.d.ts"
import jstat from "jstat";
import { requireNumber } from "../options/mod.ts";

/**
 * Value below which a standard normal variable lies with probability `p`.
 *
 * @param p Probability, between 0 and 1 (1).
 * @returns The quantile (1).
 * @throws {RangeError} If `p` is not between 0 and 1.
 *
 * @example
 * ```ts
 * import { normalQuantile } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(normalQuantile(0.975)).toBeCloseTo(1.96, 3);
 * ```
 */
export function normalQuantile(p: number): number {
  checkProbability(p, "a normal quantile");
  return jstat.normal.inv(p, 0, 1);
}

/**
 * Probability that a standard normal variable lies below `x`.
 *
 * @param x The limit (1).
 * @returns The probability (1).
 *
 * @example
 * ```ts
 * import { normalProbability } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(normalProbability(1.96)).toBeCloseTo(0.975, 4);
 * ```
 */
export function normalProbability(x: number): number {
  requireNumber(x, "x", "1", "compute a normal probability");
  return jstat.normal.cdf(x, 0, 1);
}

/**
 * Value below which Student's t lies with probability `p`. The coverage factor
 * of a 95 % interval is `studentQuantile(0.975, degreesOfFreedom)`
 * (JCGM 100:2008, G.3).
 *
 * @param p Probability, between 0 and 1 (1).
 * @param degreesOfFreedom Degrees of freedom, positive, not necessarily a whole
 * number; `Infinity` gives the normal quantile (1).
 * @returns The quantile (1), right to about 1e-7 relative.
 * @throws {RangeError} If `p` is not between 0 and 1 or the degrees of freedom
 * are not positive.
 *
 * @example
 * ```ts
 * import { studentQuantile } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(studentQuantile(0.975, 9)).toBeCloseTo(2.262, 3);
 * ```
 */
export function studentQuantile(p: number, degreesOfFreedom: number): number {
  checkProbability(p, "a Student quantile");
  checkDegrees(degreesOfFreedom, "a Student quantile");
  if (p === 0.5) return 0;
  if (degreesOfFreedom > 1000) {
    // Abramowitz & Stegun 26.7.5; the continued fraction is slow here.
    const z = normalQuantile(p);
    const w = 1 / degreesOfFreedom;
    return z * (1 + w * ((z ** 2 + 1) / 4 +
          w * ((5 * z ** 4 + 16 * z ** 2 + 3) / 96 +
              w * (3 * z ** 6 + 19 * z ** 4 + 17 * z ** 2 - 15) / 384)));
  }
  return jstat.studentt.inv(p, degreesOfFreedom);
}

/**
 * Probability that Student's t lies below `x`.
 *
 * @param x The limit (1).
 * @param degreesOfFreedom Degrees of freedom, positive (1).
 * @returns The probability (1).
 * @throws {RangeError} If the degrees of freedom are not positive.
 *
 * @example
 * ```ts
 * import { studentProbability } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(studentProbability(2.262, 9)).toBeCloseTo(0.975, 4);
 * ```
 */
export function studentProbability(
  x: number,
  degreesOfFreedom: number,
): number {
  requireNumber(x, "x", "1", "compute a probability");
  checkDegrees(degreesOfFreedom, "a Student probability");
  if (degreesOfFreedom > 1000) {
    // The inverse series of the one in studentQuantile().
    const w = 1 / degreesOfFreedom;
    return normalProbability(
      x * (1 - w * ((x ** 2 + 1) / 4 -
            w * ((13 * x ** 4 + 8 * x ** 2 + 3) / 96 -
                w * (35 * x ** 6 + 19 * x ** 4 + x ** 2 - 15) / 384))),
    );
  }
  return jstat.studentt.cdf(x, degreesOfFreedom);
}

/**
 * Value below which χ² lies with probability `p`.
 *
 * @param p Probability, between 0 and 1 (1).
 * @param degreesOfFreedom Degrees of freedom, positive (1).
 * @returns The quantile (1).
 * @throws {RangeError} If `p` is not between 0 and 1 or the degrees of freedom
 * are not positive.
 *
 * @example
 * ```ts
 * import { chiSquareQuantile } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(chiSquareQuantile(0.95, 4)).toBeCloseTo(9.488, 3);
 * ```
 */
export function chiSquareQuantile(p: number, degreesOfFreedom: number): number {
  checkProbability(p, "a chi-square quantile");
  checkDegrees(degreesOfFreedom, "a chi-square quantile");
  return jstat.chisquare.inv(p, degreesOfFreedom);
}

/**
 * Probability that χ² lies below `x`.
 *
 * @param x The limit (1).
 * @param degreesOfFreedom Degrees of freedom, positive (1).
 * @returns The probability (1).
 * @throws {RangeError} If the degrees of freedom are not positive.
 *
 * @example
 * ```ts
 * import { chiSquareProbability } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(chiSquareProbability(9.488, 4)).toBeCloseTo(0.95, 4);
 * ```
 */
export function chiSquareProbability(
  x: number,
  degreesOfFreedom: number,
): number {
  requireNumber(x, "x", "1", "compute a probability");
  checkDegrees(degreesOfFreedom, "a chi-square probability");
  return x <= 0 ? 0 : jstat.chisquare.cdf(x, degreesOfFreedom);
}

/**
 * Probability that Fisher's F lies below `x`.
 *
 * @param x The limit (1).
 * @param numerator Degrees of freedom of the numerator, positive (1).
 * @param denominator Degrees of freedom of the denominator, positive (1).
 * @returns The probability (1).
 * @throws {RangeError} If the degrees of freedom are not positive.
 *
 * @example
 * ```ts
 * import { fisherProbability } from "fringebook/fit";
 * import { expect } from "vitest";
 *
 * expect(fisherProbability(5.987, 1, 6)).toBeCloseTo(0.95, 3);
 * ```
 */
export function fisherProbability(
  x: number,
  numerator: number,
  denominator: number,
): number {
  requireNumber(x, "x", "1", "compute a probability");
  checkDegrees(numerator, "an F probability");
  checkDegrees(denominator, "an F probability");
  return x <= 0 ? 0 : jstat.centralF.cdf(x, numerator, denominator);
}

function checkProbability(p: number, what: string): void {
  if (!(p > 0 && p < 1)) {
    throw new RangeError(
      `Cannot compute ${what} as the probability must lie between 0 and 1: current value is ${p}`,
    );
  }
}

function checkDegrees(degreesOfFreedom: number, what: string): void {
  if (!(degreesOfFreedom > 0)) {
    throw new RangeError(
      `Cannot compute ${what} as the degrees of freedom must be positive: current value is ${degreesOfFreedom}`,
    );
  }
}
