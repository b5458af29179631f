import { type FeedbackOptions, readFeedback } from "./excess_phase.ts";

/** Parts of a fringe period between jumps and zero crossings of cos φF. */
export interface FringeTiming {
  /**
   * From the rising zero crossing to the jump after it, while φ0 rises, in
   * fringes.
   */
  readonly rising: number;
  /**
   * From the falling zero crossing to the jump after it, while φ0 falls, in
   * fringes.
   */
  readonly falling: number;
  /** Sum of both, in fringes; depends on C only. */
  readonly sum: number;
}

/**
 * Expected timing within a fringe at moderate feedback (1 < C < 4.6), as parts
 * of a fringe (2π of φ0):
 * rising φ12 = sqrt(C² - 1) + C/sqrt(1 + α²) + arccos(-1/C) - arctan α + π/2,
 * falling φ34 = sqrt(C² - 1) - C/sqrt(1 + α²) + arccos(-1/C) + arctan α - π/2.
 * The sum gives C, the difference then α.
 *
 * @param options C and α.
 * @returns Parts of a fringe (1).
 * @throws {RangeError} If C is not above 1.
 *
 * Source: Yu, Giuliani, Donati 2004.
 *
 * @example
 * ```ts
 * import { fringeTiming } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const { rising, falling } = fringeTiming({
 *   feedbackParameter: 2,
 *   linewidthEnhancementFactor: 3,
 * });
 * expect(rising).toBeCloseTo(0.760864, 6);
 * expect(falling).toBeCloseTo(0.457131, 6);
 * ```
 */
export function fringeTiming(options: FeedbackOptions): FringeTiming {
  const { feedbackParameter: c, linewidthEnhancementFactor: alpha } =
    readFeedback(options, "give fringe timing");
  if (!(c > 1)) {
    throw new RangeError(
      `Cannot give fringe timing as 'feedbackParameter' must be above 1: current value is ${c}`,
    );
  }
  const common = Math.sqrt(c * c - 1) + Math.acos(-1 / c);
  const tilt = c / Math.hypot(1, alpha) - Math.atan(alpha) + Math.PI / 2;
  const turn = 2 * Math.PI;
  return {
    rising: (common + tilt) / turn,
    falling: (common - tilt) / turn,
    sum: 2 * common / turn,
  };
}
