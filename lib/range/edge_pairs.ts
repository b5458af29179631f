import { fitEdges } from "./edge_fit.ts";
import { reachOf } from "./feedback_course.ts";
import type { FeedbackFit } from "./feedback_fit.ts";
import {
  joinStrokes,
  sampleNoise,
  type StrokeSignal,
} from "./stroke_signal.ts";

/** Rounds after which the most likely of many starts are chosen. */
const firstRounds = 6;
/** Cost per sample above that of the best from which on a start is given up. */
const hopeless = 0.2;

/** Pairs that leave more than noise, after which all are taken to do so. */
const mostDisturbed = 2;

/** A rising and a falling stroke that follow one another, in either order. */
export interface StrokePair {
  readonly first: StrokeSignal;
  readonly second: StrokeSignal;
  /** Direction of the first. */
  readonly direction: "up" | "down";
}

/**
 * Fits rising and falling strokes together. On strokes of one direction C and
 * the phase are hard to tell apart once the fringes jump, as both only shift the
 * jumps; rising and falling jumps are shifted to opposite sides by C.
 *
 * A steady motion of the target may go on meanwhile.
 *
 * @param always Whether fringes that do not jump are fitted together too.
 */
export function createEdgePairs(always = false) {
  let last: FeedbackFit | null = null;
  let disturbed = 0;
  const split = ({ first, direction }: StrokePair, fit: FeedbackFit) => {
    const seam = first.x.length;
    // t = t₀ - πN x + d T: dT/dx is 1/2 rising and -1/2 falling.
    const change = (fit.drift ?? 0) / (2 * Math.PI);
    const part = (from: number, to: number, way: "up" | "down") => ({
      ...fit,
      steps: fit.steps - (way === "up" ? change : -change),
      // The mean of the two is as sure as the fit.
      standardUncertainty: Math.SQRT2 * fit.standardUncertainty,
      fitted: fit.fitted.slice(from, to),
      background: fit.background.slice(from, to),
    });
    return [
      part(0, seam, direction),
      part(seam, fit.fitted.length, direction === "up" ? "down" : "up"),
    ] as const;
  };
  return {
    /**
     * From a hint or else from the pair before; `null` without either or where it
     * does not fit.
     */
    follow(pair: StrokePair, hint: FeedbackFit | null = null) {
      const good = hint !== null &&
        (last === null || hint.noise < 1.15 * last.noise);
      const start = good ? hint : last;
      if (start === null) return null;
      const fit = fitEdges(joinStrokes(pair.first, pair.second), start, true);
      if (fit === null || fit.noise > 1.15 * start.noise) return null;
      last = fit;
      return split(pair, fit);
    },
    /** From the fits of the two strokes; `null` where they do not fit together. */
    join(pair: StrokePair, first: FeedbackFit, second: FeedbackFit) {
      const [up, down] = pair.direction === "up"
        ? [first, second]
        : [second, first];
      const smooth =
        Math.max(up.feedbackParameter, down.feedbackParameter) < 0.95;
      if (smooth && !always) return null;
      const signal = joinStrokes(pair.first, pair.second);
      const rising = up.offset + reachOf(up.feedbackParameter);
      const falling = down.offset - reachOf(down.feedbackParameter);
      // A lag that is taken into account leaves no bend of a higher order.
      const phase = first.phase.slice(0, always ? 3 : undefined)
        .map((value, k) => (value + (second.phase[k] ?? value)) / 2);
      const start: FeedbackFit = {
        ...first,
        phase,
        drift: Math.PI * (down.steps - up.steps),
        keep: ((first.keep ?? 0.25) + (second.keep ?? 0.25)) / 2,
      };
      const half = (rising - falling) / 2;
      const starts = smooth ? [start] : [];
      for (
        let reach = half - Math.PI * Math.floor((half - 2.8) / Math.PI);
        reach < 8.5 && !smooth;
        reach += Math.PI
      ) {
        starts.push({
          ...start,
          feedbackParameter: feedbackOf(reach),
          offset: rising - reach,
        });
      }
      const several = starts.length > 1;
      const fits = starts.flatMap((one) =>
        fitEdges(signal, one, true, several ? firstRounds : undefined) ?? []
      ).sort((a, b) => a.cost - b.cost);
      const best = several
        ? fits.slice(0, 2)
          .filter(({ cost }) =>
            cost < fits[0]!.cost + hopeless * signal.x.length
          )
          .flatMap((fit) => fitEdges(signal, fit, true) ?? [])
          .sort((a, b) => a.cost - b.cost)[0] ?? null
        : fits[0] ?? null;
      const usual = Math.max(first.noise, second.noise);
      if (best === null || best.noise > 1.15 * usual) return null;
      // Strokes that a knock disturbed are no start for others, unless all are such.
      if (best.noise > 1.3 * sampleNoise(signal.y)) disturbed++;
      else last = best;
      if (disturbed > mostDisturbed) last ??= best;
      return split(pair, best);
    },
  };
}

/** C of a branch of that half width. */
function feedbackOf(reach: number): number {
  if (reach <= Math.PI) return 1.001;
  let [low, high] = [1, reach];
  for (let round = 0; round < 50; round++) {
    const middle = (low + high) / 2;
    if (reachOf(middle) < reach) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
