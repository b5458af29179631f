import { quantity } from "../result/mod.ts";
import type { DisturbedCount } from "./count_disturbed.ts";
import type { RampCount } from "./count_ramp.ts";
import type { StrokeCount } from "./count_stroke.ts";
import type { FeedbackFit, FeedbackGuess } from "./feedback_fit.ts";
import type { HopStep } from "./hop_step.ts";
import { median } from "./stroke_selection.ts";

/** What counted strokes tell of the others of a record; plain data. */
export interface KnownFringes {
  /** Current at the lower end of the ramp, in A. */
  readonly low: number;
  /** Upper minus lower end, in A. */
  readonly span: number;
  readonly hops: readonly HopStep[];
  /** Where the fit of a stroke starts; `null` without strokes of that direction. */
  readonly up: FeedbackGuess | null;
  readonly down: FeedbackGuess | null;
  /** Time constant of a lag and its standard uncertainty, in s. */
  readonly timeConstant: number;
  readonly timeConstantUncertainty: number;
  /** Whether it was searched. */
  readonly lagSearched: boolean;
  /** First guess of a lag that could not be settled, in s; 0 without. */
  readonly lagSuspected: number;
  /** Standard uncertainty of the steps (1) from the lag and from the hops. */
  readonly lagUncertainty: number;
  readonly hopUncertainty: number;
}

/** Part of the strokes that the equation must describe one by one (1). */
const mostly = 0.9;

/**
 * What a count tells of further strokes; `null` where strokes are not fitted one by
 * one: few steps and fringes that jump are counted in other ways.
 */
export function knownFringes(
  { counted, lag, hopUncertainty }: DisturbedCount,
): KnownFringes | null {
  const { counts, strokes, low, span, hops } = counted;
  const fits = counts.flatMap((count, i) =>
    isFittedAlone(counted, i)
      ? [{ direction: strokes[i]!.direction, fit: count!.model! }]
      : []
  );
  if (fits.length < mostly * counts.length) return null;
  // What most strokes show of the amplifier's pole, and the feedback, are those
  // of all.
  const keeps = fits.flatMap(({ fit: { keep } }) =>
    keep === undefined ? [] : [keep]
  );
  const pole = keeps.length > fits.length / 2 ? { keep: median(keeps) } : {};
  const feedbackParameter = median(
    fits.map(({ fit }) => fit.feedbackParameter),
  );
  const noise = median(fits.map(({ fit }) => fit.noise));
  const guess = (direction: "up" | "down"): FeedbackGuess | null => {
    const last = fits.findLast((one) => one.direction === direction);
    if (last === undefined) return null;
    const { keep: _, ...own } = guessFrom(last.fit, noise);
    return { ...own, feedbackParameter, ...pole };
  };
  return {
    low,
    span,
    hops,
    up: guess("up"),
    down: guess("down"),
    timeConstant: lag.timeConstant.value,
    timeConstantUncertainty: lag.timeConstant.standardUncertainty,
    lagSearched: lag.searched,
    lagSuspected: lag.suspected,
    lagUncertainty: lag.stepsUncertainty,
    hopUncertainty,
  };
}

/** A fit as the start of the next one, with the noise that is usual. */
export function guessFrom(fit: FeedbackFit, noise: number): FeedbackGuess {
  const { fitted: _f, background: _b, cost: _c, converged: _d, ...guess } = fit;
  return { ...guess, noise };
}

/** The count of further strokes with what is known of all. */
export function disturbedLike(
  counted: RampCount,
  known: KnownFringes,
): DisturbedCount {
  return {
    counted,
    hopUncertainty: known.hopUncertainty,
    lag: {
      timeConstant: quantity(
        known.timeConstant,
        known.timeConstantUncertainty,
        "s",
      ),
      stepsUncertainty: known.lagUncertainty,
      searched: known.lagSearched,
      suspected: known.lagSuspected,
    },
  };
}

function isFittedAlone({ counts, signals }: RampCount, i: number): boolean {
  const [count, signal] = [counts[i], signals[i]];
  return count?.model !== null && count?.model !== undefined &&
    isByModel(count) && count.model.drift === undefined &&
    count.model.fitted.length === signal?.x.length;
}

/** Whether the model's count was adopted. */
function isByModel({ byEdges, steps, modelSteps }: StrokeCount): boolean {
  return !byEdges && steps === modelSteps;
}
