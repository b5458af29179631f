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
  const backward = backwardDirection(strokes, counts);
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
    const sign = backward === direction ? -1 : 1;
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

/** Part of the strokes of a direction that must lean alike (1). */
const mostLeans = 0.85;
/** Fastest motion that a lean may tell, over the critical velocity (1). */
const fastest = 8;

/**
 * The direction in which the phase runs backward, as a target faster than the
 * critical velocity makes it; `null` for none. The lean must tell it on nearly all
 * strokes of both directions: both cannot run backward. And what is left of the
 * distance must be more than nothing: a lean read wrongly on one direction of a
 * target at rest takes all of it away.
 */
function backwardDirection(
  strokes: readonly Stroke[],
  counts: readonly (StrokeCount | null)[],
): "up" | "down" | null {
  const [up, down] = (["up", "down"] as const).map((direction) => {
    const own = counts.filter((count, i): count is StrokeCount =>
      count !== null && strokes[i]!.direction === direction
    );
    const share = (lean: number) =>
      own.filter((count) => count.lean === lean).length >=
        mostLeans * own.length;
    return {
      steps: median(own.map(({ steps }) => steps)),
      lean: own.length === 0 ? 0 : share(1) ? 1 : share(-1) ? -1 : 0,
    };
  });
  if (up!.lean * down!.lean !== -1) return null;
  const [left, moved] = [
    Math.abs(up!.steps - down!.steps),
    up!.steps + down!.steps,
  ];
  return moved > fastest * left ? null : up!.lean < 0 ? "up" : "down";
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
