import {
  benchOptions,
  handedOption,
  type Option,
  optional,
  readOptions,
  requireNumbers,
} from "../options/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { checkFeedback } from "./excess_phase.ts";

/** Options of {@linkcode feedbackPhase}. */
export interface FeedbackPhaseOptions {
  /**
   * Feedback parameter C (1), not negative: one number, or one for each sample
   * (fading).
   */
  feedbackParameter: number | ArrayLike<number>;
  /**
   * Linewidth enhancement factor α (1), not negative.
   *
   * @default {5}
   */
  linewidthEnhancementFactor?: number;
  /**
   * Where the block before ended; `null` starts on the solution nearest to the
   * middle of its branch.
   *
   * @default {null}
   */
  state?: FeedbackState | null;
}

export const feedbackPhaseSpec = {
  feedbackParameter: handedOption<number | ArrayLike<number>>(
    "Feedback parameter C (1), or one value per sample.",
    "a number, or a list of one number per sample",
    (value) =>
      typeof value === "number" || Array.isArray(value) ||
      ArrayBuffer.isView(value),
  ),
  linewidthEnhancementFactor: benchOptions.linewidthEnhancementFactor,
  state: optional(
    handedOption<FeedbackState>(
      "Where an earlier stretch ended.",
      "the 'state' of an earlier stretch",
      (value) => typeof (value as FeedbackState | null)?.branch === "number",
    ),
    null,
  ),
} satisfies Record<keyof FeedbackPhaseOptions, Option>;

/** What the next block of a stream needs to know of the blocks before. */
export interface FeedbackState {
  /** Branch m: φF + arctan α lies around 2πm. */
  readonly branch: number;
  /** Samples seen so far. */
  readonly sampleCount: number;
}

/** What {@linkcode feedbackPhase} returns. */
export interface FeedbackPhaseTrace {
  /** Phase with feedback φF, in rad, one per sample; `NaN` where φ0 is. */
  readonly phase: Float64Array;
  /** Samples, counted from the start of this block, that come after a jump. */
  readonly jumpIndices: Int32Array;
  /**
   * Branches jumped at each of these samples (1): positive where φ0 rises. More
   * than one means that φ0 moved by more than a fringe between two samples.
   */
  readonly jumpBranches: Int32Array;
  /** Pass as `state` with the next block. */
  readonly state: FeedbackState;
}

/**
 * Solves the excess-phase equation φ0 = φF + C sin(φF + arctan α) for φF along
 * a trace, at any C. For C > 1 the solution stays on its branch until the branch
 * ends (a fold), then jumps to the next one: hysteresis for 1 < C < 4.6, and
 * above that the fringe loss of strong feedback.
 *
 * Takes 10^6 samples in some 0.2 s. A stream is solved block by block with
 * `state`; the blocks together give the same numbers as the whole.
 *
 * @param phase Phase without feedback φ0 = 4πnL/λ, in rad, in order of time.
 * @param options C, α, and the state after the block before.
 * @returns φF of each sample in rad, and where it jumped.
 * @throws {RangeError} If C or α is negative or not finite, or there are not as
 * many C as samples.
 *
 * Source: Lang, Kobayashi 1980; Kliese et al. 2014; the fold at which a branch
 * ends: Yu, Giuliani, Donati 2004.
 *
 * @example A branch is kept until it ends
 * ```ts
 * import { feedbackPhase } from "fringebook/laser";
 * import { expect } from "vitest";
 *
 * const { phase, jumpBranches } = feedbackPhase([0, 2, 4, 6, 4, 2, 0], {
 *   feedbackParameter: 2,
 *   linewidthEnhancementFactor: 5,
 * });
 * expect(phase[2]).toBeCloseTo(4.6033405034, 9);
 * expect(phase[5]).toBeCloseTo(3.7953359055, 9);
 * expect(phase[1]).toBeCloseTo(0.0284685417, 9);
 * expect([...jumpBranches]).toEqual([1, -1]);
 * ```
 */
export function feedbackPhase(
  phase: ArrayLike<number>,
  options: FeedbackPhaseOptions,
): FeedbackPhaseTrace {
  const task = "solve the excess-phase equation";
  requireNumbers(phase, "phase", task);
  const { feedbackParameter, linewidthEnhancementFactor, state } = readOptions(
    feedbackPhaseSpec,
    options,
    task,
  );
  const sampleCount = phase.length;
  const varying = typeof feedbackParameter !== "number";
  if (varying && feedbackParameter.length !== sampleCount) {
    throw new RangeError(
      `Cannot solve the excess-phase equation as 'feedbackParameter' must have one value for each of the ${sampleCount} samples: it has ${feedbackParameter.length}`,
    );
  }
  checkFeedback(varying ? 0 : feedbackParameter, linewidthEnhancementFactor);
  const shift = Math.atan(linewidthEnhancementFactor);
  const result = new Float64Array(sampleCount);
  const jumpIndices: number[] = [];
  const jumpBranches: number[] = [];
  let branch = state?.branch ?? NaN;
  let c = varying ? NaN : feedbackParameter;
  let fold = makeFold(c);
  for (let i = 0; i < sampleCount; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / sampleCount, "feedback phase");
    if (varying && feedbackParameter[i] !== c) {
      c = feedbackParameter[i]!;
      checkFeedback(c, linewidthEnhancementFactor);
      fold = makeFold(c);
    }
    const target = phase[i]! + shift;
    if (!Number.isFinite(target)) {
      result[i] = NaN;
      continue;
    }
    const next = nextBranch(target, branch, fold.reach);
    if (next !== branch) {
      // Below C = 1 nothing jumps; the branch is only the fringe number.
      if (c > 1 && branch === branch) {
        jumpIndices.push(i);
        jumpBranches.push(next - branch);
      }
      branch = next;
    }
    const centre = 2 * Math.PI * branch;
    const offset = target - centre;
    const root = solveOnBranch(Math.abs(offset), c, fold);
    result[i] = centre + (offset < 0 ? -root : root) - shift;
  }
  return {
    phase: result,
    jumpIndices: Int32Array.from(jumpIndices),
    jumpBranches: Int32Array.from(jumpBranches),
    state: { branch, sampleCount: (state?.sampleCount ?? 0) + sampleCount },
  };
}

/** Half of a branch, counted from its middle. */
interface Fold {
  /** Where x = φF + arctan α ends, in rad. */
  readonly x: number;
  /** Where φ0 + arctan α ends, in rad. */
  readonly reach: number;
  /** sqrt(C² - 1), the curvature at the end. */
  readonly curvature: number;
}

function makeFold(c: number): Fold {
  if (!(c > 1)) return { x: Math.PI, reach: Math.PI, curvature: 0 };
  const x = Math.acos(-1 / c);
  const curvature = Math.sqrt(c * c - 1);
  return { x, reach: x + curvature, curvature };
}

/** The branch kept if it reaches so far, else the first one that does. */
function nextBranch(target: number, branch: number, reach: number): number {
  const turn = 2 * Math.PI;
  if (branch !== branch) return Math.round(target / turn);
  const offset = target - turn * branch;
  if (offset > reach) return Math.ceil((target - reach) / turn);
  if (offset < -reach) return Math.floor((target + reach) / turn);
  return branch;
}

/**
 * Solves x + C sin x = t for 0 ≤ t ≤ reach on 0 ≤ x ≤ fold. There the left side
 * rises and is concave, so that Newton's method never passes the solution from
 * below; the start is a lower bound that is exact at both ends.
 */
function solveOnBranch(t: number, c: number, fold: Fold): number {
  if (c === 0) return t;
  const least = t / (1 + c);
  const rest = Math.max(0, fold.reach - t);
  // Near the fold: rest = curvature d²/2 + d³/6 for C ≥ 1, and for C < 1
  // rest = (1 - C) d + C d³/6.
  const cubic = Math.cbrt(6 * rest / Math.min(c, 1));
  const d = c > 1
    ? Math.min(cubic, Math.sqrt(2 * rest / fold.curvature))
    : Math.min(cubic, rest / (1 - c));
  let x = Math.max(least, fold.x - d, t - c);
  let last = Infinity;
  for (let i = 0; i < 60; i++) {
    const slope = 1 + c * Math.cos(x);
    const step = (t - x - c * Math.sin(x)) / slope;
    // At the fold itself the slope vanishes and x is already the solution.
    if (!(slope > 1e-12)) break;
    const next = Math.min(fold.x, Math.max(least, x + step));
    const size = Math.abs(next - x);
    x = next;
    if (size <= 4e-16 * (1 + x) || (size < 1e-9 && size >= last)) break;
    last = size;
  }
  return x;
}
