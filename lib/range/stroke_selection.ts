import type { RampCount } from "./count_ramp.ts";
import type { StrokeCount } from "./count_stroke.ts";
import type { FringeFit } from "./fringe_fit.ts";
import { type CommonBreak, commonBreak, findPhaseBreak } from "./mode_hop.ts";
import type { Stroke } from "./ramps.ts";
import type { StrokeSteps } from "./steps_result.ts";
import type { StrokeSignal } from "./stroke_signal.ts";

/** Mode hops of either direction, in order of current. */
export function findHops(
  strokes: readonly Stroke[],
  signals: readonly (StrokeSignal | null)[],
  waveforms: readonly (FringeFit | null)[],
): { up: CommonBreak[]; down: CommonBreak[] } {
  const of = (direction: "up" | "down"): CommonBreak[] => {
    const members = strokes.flatMap((stroke, i) =>
      stroke.direction === direction && waveforms[i] && signals[i] ? [i] : []
    );
    if (members.length === 0) return [];
    const hop = commonBreak(
      members.map((i) => findPhaseBreak(signals[i]!, waveforms[i]!)),
      median(members.map((i) => waveforms[i]!.steps)),
    );
    return hop === null ? [] : [hop];
  };
  return { up: of("up"), down: of("down") };
}

/** Which strokes count: signed by their lean, without the disturbed ones. */
export function judgeStrokes(
  strokes: readonly Stroke[],
  signals: readonly (StrokeSignal | null)[],
  counts: readonly (StrokeCount | null)[],
): StrokeSteps[] {
  const backward = (["up", "down"] as const).filter((direction) => {
    const leans = strokes.flatMap((stroke, i) =>
      stroke.direction === direction && counts[i] ? [counts[i].lean] : []
    );
    return leans.length > 0 &&
      leans.filter((lean) => lean < 0).length > 0.7 * leans.length;
  });
  const usual = median(
    counts.flatMap((count) => count === null ? [] : [count.misfit]),
  );
  return strokes.map((stroke, i): StrokeSteps => {
    const count = counts[i]!;
    const { index, direction, start, end, currentRelativeUncertainty } = stroke;
    const base = { index, direction, start, end };
    if (count === null) {
      return {
        ...base,
        steps: NaN,
        standardUncertainty: NaN,
        used: false,
        reason: signals[i] === null
          ? "samples are missing"
          : "no fringes found",
      };
    }
    const disturbed = counts.length > 3 && count.misfit > 2 * usual;
    // Both directions cannot run backward: then the lean says nothing.
    const sign = backward.length === 1 && backward[0] === direction ? -1 : 1;
    return {
      ...base,
      steps: sign * count.steps,
      standardUncertainty: Math.hypot(
        count.standardUncertainty,
        count.steps * currentRelativeUncertainty,
      ),
      used: !disturbed,
      reason: disturbed ? "disturbed" : null,
    };
  });
}

/** Steps per ramp (1), the median over the strokes. */
export function stepsOf({ counts }: Pick<RampCount, "counts">): number {
  return median(counts.flatMap((c) => c === null ? [] : [c.steps]));
}

/** Feedback parameter (1), the median over the strokes; `NaN` without a model. */
export function feedbackOf({ counts }: Pick<RampCount, "counts">): number {
  return median(
    counts.flatMap((c) => c?.model ? [c.model.feedbackParameter] : []),
  );
}

/** What the fits leave over the noise, as the median over the strokes (1). */
export function leftOver({ counts }: Pick<RampCount, "counts">): number {
  return median(
    counts.flatMap((c) => c === null ? [] : [c.misfit / c.sampleNoise]),
  );
}

/** Middle value; the upper of the two middle ones. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? NaN;
}
