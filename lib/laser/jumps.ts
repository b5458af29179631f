import {
  checkFeedback,
  type FeedbackOptions,
  readFeedback,
} from "./excess_phase.ts";

/** Where φF jumps, within one turn of φ0. */
export interface JumpPhases {
  /** φ0 at which it jumps while φ0 rises, in rad, modulo 2π. */
  readonly rising: number;
  /** φ0 at which it jumps while φ0 falls, in rad, modulo 2π. */
  readonly falling: number;
}

/**
 * The phases φ0 at which φF jumps, for C > 1:
 * rising arccos(-1/C) - arctan α + sqrt(C² - 1) + 2πm,
 * falling -arccos(-1/C) - arctan α - sqrt(C² - 1) + 2πm.
 *
 * @param options C and α.
 * @returns The two phases for m = 0, in rad.
 * @throws {RangeError} If C is not above 1: nothing jumps then.
 *
 * Source: Yu, Giuliani, Donati 2004.
 *
 * @example
 * ```ts
 * import { hysteresisWidth, jumpPhases } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const { rising, falling } = jumpPhases({ feedbackParameter: 2 });
 * expect(rising - falling - 2 * Math.PI)
 *   .toBeCloseTo(hysteresisWidth(2), 12);
 * ```
 */
export function jumpPhases(options: FeedbackOptions): JumpPhases {
  const { feedbackParameter: c, linewidthEnhancementFactor } = readFeedback(
    options,
    "give jump phases",
  );
  if (!(c > 1)) {
    throw new RangeError(
      `Cannot give jump phases as 'feedbackParameter' must be above 1: current value is ${c}`,
    );
  }
  const shift = Math.atan(linewidthEnhancementFactor);
  const reach = Math.acos(-1 / c) + Math.sqrt(c * c - 1);
  return { rising: reach - shift, falling: -reach - shift };
}

/**
 * Width of the hysteresis: how much further φ0 must rise for the jump up than
 * it must fall for the jump back, W = 2 [sqrt(C² - 1) - arccos(1/C)].
 *
 * @param feedbackParameter C (1), not negative.
 * @returns Width in rad of φ0; 0 for C ≤ 1. More than 2π (a fringe) above
 * C = 4.603.
 * @throws {RangeError} If C is negative or not finite.
 *
 * @example
 * ```ts
 * import { hysteresisWidth } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * expect(hysteresisWidth(3) / (2 * Math.PI)).toBeCloseTo(0.5085, 4);
 * ```
 */
export function hysteresisWidth(feedbackParameter: number): number {
  checkFeedback(feedbackParameter, 0);
  if (feedbackParameter <= 1) return 0;
  return 2 * (Math.sqrt(feedbackParameter ** 2 - 1) -
    Math.acos(1 / feedbackParameter));
}

/**
 * Values of C above which the excess-phase equation can have more solutions:
 * C_k = 1/cos x with tan x = x + kπ; from 1 to 3 solutions at C = 1, then to 5
 * at 4.603, to 7 at 7.790.
 *
 * @param count How many thresholds (1), a whole number above 0.
 * @returns The thresholds in rising order (1).
 * @throws {RangeError} If the count is not a whole number above 0.
 *
 * @example
 * ```ts
 * import { feedbackThresholds } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * expect(feedbackThresholds(2)[1]).toBeCloseTo(4.603339, 6);
 * ```
 */
export function feedbackThresholds(count: number): number[] {
  if (!(Number.isInteger(count) && count > 0)) {
    throw new RangeError(
      `Cannot give feedback thresholds as 'count' must be a whole number above 0: current value is ${count}`,
    );
  }
  // With C = 1/cos x, W(C) = 2 (tan x - x), which is 2πk at the k-th threshold.
  return Array.from({ length: count }, (_, k) => {
    let c = k === 0 ? 1 : (k + 0.5) * Math.PI;
    for (let i = 0; i < 50 && k > 0; i++) {
      const slope = 2 * Math.sqrt(c * c - 1) / c;
      c -= (hysteresisWidth(c) - 2 * Math.PI * k) / slope;
    }
    return c;
  });
}

/** Names of the regimes that {@linkcode feedbackRegime} tells apart. */
export type FeedbackRegime = "very weak" | "weak" | "moderate" | "strong";

/**
 * Name of the feedback regime: very weak (C < 0.1, the fringe is a cosine), weak
 * (C ≤ 1, tilted), moderate (C ≤ 4.603, saw-tooth with hysteresis), strong
 * (above: fringes get lost).
 *
 * @param feedbackParameter C (1), not negative.
 * @returns The regime.
 * @throws {RangeError} If C is negative or not finite.
 *
 * Source: Giuliani, Norgia, Donati, Bosch 2002 (from memory); Taimre et al. 2015.
 *
 * @example
 * ```ts
 * import { feedbackRegime } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * expect(feedbackRegime(2)).toBe("moderate");
 * ```
 */
export function feedbackRegime(feedbackParameter: number): FeedbackRegime {
  checkFeedback(feedbackParameter, 0);
  if (feedbackParameter < 0.1) return "very weak";
  if (feedbackParameter <= 1) return "weak";
  return feedbackParameter <= feedbackThresholds(2)[1]! ? "moderate" : "strong";
}

/**
 * How many jumps one monotonic stroke of the target makes. It depends on where
 * on the branch the stroke starts, hence two numbers. When φ0 goes to and fro
 * over the stroke again and again, every stroke begins where the one before
 * turned, and `repeating` of the fringes jump.
 *
 * @param excursion Change of φ0 in the stroke, in rad, not negative:
 * 4πn ΔL/λ.
 * @param feedbackParameter C (1), above 1.
 * @returns Least and most jumps of a repeated stroke (1).
 * @throws {RangeError} If the excursion is negative or C not above 1.
 *
 * Source: derived from the folds (Yu, Giuliani, Donati 2004); fringe loss: Zabit
 * et al. 2010 (from memory).
 *
 * @example A 4 µm stroke at 650 nm: 12.3 fringes, 11 of which jump at C = 5
 * ```ts
 * import { expectedJumps } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const { least, most } = expectedJumps(4 * Math.PI * 4e-6 / 650e-9, 5);
 * expect([least, most]).toEqual([11, 12]);
 * ```
 */
export function expectedJumps(
  excursion: number,
  feedbackParameter: number,
): { least: number; most: number } {
  if (!(excursion >= 0 && Number.isFinite(excursion))) {
    throw new RangeError(
      `Cannot expect jumps as 'excursion' must be a number of rad that is not negative: current value is ${excursion}`,
    );
  }
  if (!(feedbackParameter > 1)) {
    throw new RangeError(
      `Cannot expect jumps as 'feedbackParameter' must be above 1: current value is ${feedbackParameter}`,
    );
  }
  const turns = (excursion - hysteresisWidth(feedbackParameter)) /
    (2 * Math.PI);
  const least = Math.max(0, Math.floor(turns));
  return { least, most: Math.max(0, Math.floor(turns) + 1) };
}
