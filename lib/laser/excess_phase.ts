import { checkpoint } from "../progress/mod.ts";
import {
  benchOptions,
  type Option,
  type ReadOptions,
  readOptions,
  requireNumber,
  requireNumbers,
} from "../options/mod.ts";
/** The two numbers of a diode with light coming back into it. */
export interface FeedbackOptions {
  /** Feedback parameter C (1), not negative. */
  feedbackParameter: number;
  /**
   * Linewidth enhancement factor α (1), not negative.
   *
   * @default {5}
   */
  linewidthEnhancementFactor?: number;
}

/** One solution of the excess-phase equation. */
export interface FeedbackRoot {
  /** Phase with feedback, in rad. */
  readonly phase: number;
  /** Whether the laser can stay there: 1 + C cos(φF + arctan α) > 0. */
  readonly stable: boolean;
}

/** The options of {@linkcode FeedbackOptions}. */
export const feedbackSpec = {
  feedbackParameter: benchOptions.feedbackParameter,
  linewidthEnhancementFactor: benchOptions.linewidthEnhancementFactor,
} satisfies Record<keyof FeedbackOptions, Option>;

/** C and α as read. */
export function readFeedback(
  options: FeedbackOptions,
  task: string,
): ReadOptions<typeof feedbackSpec> {
  return readOptions(feedbackSpec, options, task);
}

/** Throws unless C and α are numbers that the model knows. */
export function checkFeedback(
  feedbackParameter: number,
  linewidthEnhancementFactor: number,
): void {
  if (!(feedbackParameter >= 0 && Number.isFinite(feedbackParameter))) {
    throw new RangeError(
      `Cannot solve the excess-phase equation as 'feedbackParameter' must be a number that is not negative: current value is ${feedbackParameter}`,
    );
  }
  if (
    !(linewidthEnhancementFactor >= 0 &&
      Number.isFinite(linewidthEnhancementFactor))
  ) {
    throw new RangeError(
      `Cannot solve the excess-phase equation as 'linewidthEnhancementFactor' must be a number that is not negative: current value is ${linewidthEnhancementFactor}`,
    );
  }
}

/**
 * The excess-phase equation read forward: the round-trip phase φ0 without
 * feedback that belongs to a phase φF with feedback,
 * φ0 = φF + C sin(φF + arctan α). Turns a feedback phase found in a capture
 * into the phase of the target, one λ/2 of distance for each 2π.
 *
 * @param feedbackPhase Phase with feedback φF, in rad; any number of samples.
 * @param options C and α.
 * @returns Phase without feedback φ0, in rad; as many samples.
 * @throws {RangeError} If C or α is negative or not finite.
 *
 * Source: Lang, Kobayashi 1980; Donati, Giuliani, Merlo 1995 (from memory); Taimre et al.
 * 2015 (steady state).
 *
 * @example
 * ```ts
 * import { excessPhase } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const [phase] = excessPhase([-0.5143915431], {
 *   feedbackParameter: 2,
 *   linewidthEnhancementFactor: 5,
 * });
 * expect(phase).toBeCloseTo(1, 9);
 * ```
 */
export function excessPhase(
  feedbackPhase: ArrayLike<number>,
  options: FeedbackOptions,
): Float64Array {
  const task = "read the excess-phase equation forward";
  requireNumbers(feedbackPhase, "feedbackPhase", task);
  const { feedbackParameter, linewidthEnhancementFactor } = readFeedback(
    options,
    task,
  );
  const shift = Math.atan(linewidthEnhancementFactor);
  const result = new Float64Array(feedbackPhase.length);
  for (let i = 0; i < result.length; i++) {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(i / result.length, task);
    const phase = feedbackPhase[i]!;
    result[i] = phase + feedbackParameter * Math.sin(phase + shift);
  }
  return result;
}

/**
 * All solutions φF of φ0 = φF + C sin(φF + arctan α), stable or not, in rising
 * order. C ≤ 1 has one; 1 < C ≤ 4.603 has one or three; more above.
 *
 * @param phase Phase without feedback φ0, in rad.
 * @param options C and α.
 * @returns The solutions, at least one.
 * @throws {RangeError} If the phase is not finite, or C or α negative.
 *
 * Source: Kliese et al. 2014 (bracketing of the solutions).
 *
 * @example
 * ```ts
 * import { feedbackPhaseRoots } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const roots = feedbackPhaseRoots(2, {
 *   feedbackParameter: 2,
 *   linewidthEnhancementFactor: 5,
 * });
 * expect(roots.map(({ stable }) => stable)).toEqual([true, false, true]);
 * expect(roots[0]!.phase).toBeCloseTo(0.0284685417, 9);
 * ```
 */
export function feedbackPhaseRoots(
  phase: number,
  options: FeedbackOptions,
): FeedbackRoot[] {
  const task = "solve the excess-phase equation";
  requireNumber(phase, "phase", "rad", task);
  const { feedbackParameter, linewidthEnhancementFactor } = readFeedback(
    options,
    task,
  );
  if (!Number.isFinite(phase)) {
    throw new RangeError(
      `Cannot solve the excess-phase equation as 'phase' must be a finite number of rad: current value is ${phase}`,
    );
  }
  const shift = Math.atan(linewidthEnhancementFactor);
  const target = phase + shift;
  const lowest = target - feedbackParameter;
  const highest = target + feedbackParameter;
  // x + C sin x rises and falls in turn; it turns where cos x = -1/C.
  const edges = [lowest];
  if (feedbackParameter > 1) {
    const fold = Math.acos(-1 / feedbackParameter);
    const first = Math.floor(lowest / (2 * Math.PI)) - 1;
    const last = Math.ceil(highest / (2 * Math.PI)) + 1;
    for (let m = first; m <= last; m++) {
      for (const edge of [2 * Math.PI * m - fold, 2 * Math.PI * m + fold]) {
        if (edge > lowest && edge < highest) edges.push(edge);
      }
    }
  }
  edges.push(highest);
  const excess = (x: number) => x + feedbackParameter * Math.sin(x) - target;
  const roots: FeedbackRoot[] = [];
  for (let i = 1; i < edges.length; i++) {
    const low = edges[i - 1]!;
    const high = edges[i]!;
    const atLow = excess(low);
    const atHigh = excess(high);
    if (atLow * atHigh > 0) continue;
    const x = bisect(excess, low, high, atLow);
    if (roots.length > 0 && x - shift === roots.at(-1)!.phase) continue;
    roots.push({
      phase: x - shift,
      stable: 1 + feedbackParameter * Math.cos(x) > 0,
    });
  }
  return roots;
}

function bisect(
  f: (x: number) => number,
  low: number,
  high: number,
  atLow: number,
): number {
  while (true) {
    const middle = low + (high - low) / 2;
    if (middle <= low || middle >= high) return middle;
    const value = f(middle);
    if (value === 0) return middle;
    if (value > 0 === atLow > 0) low = middle;
    else high = middle;
  }
}
