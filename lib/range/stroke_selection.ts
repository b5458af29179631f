import type { StrokeCount } from "./count_stroke.ts";
import type { FringeFit } from "./fringe_fit.ts";
import { type CommonBreak, commonBreak, findPhaseBreak } from "./mode_hop.ts";
import type { Stroke } from "./ramps.ts";
import type { StrokeSteps } from "./steps_result.ts";
import { selectSamples, type StrokeSignal } from "./stroke_signal.ts";

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

/** The parts of a stroke between its hops, a third of a step away from them. */
export function splitAtHops(
  signal: StrokeSignal,
  hops: readonly CommonBreak[],
  steps: number,
): StrokePart[] {
  const whole = { signal, from: 0, to: signal.x.length };
  if (hops.length === 0) return [whole];
  const bounds = [
    -Infinity,
    ...hops.flatMap(({ x, spread }) => {
      const margin = 0.6 / steps + 2 * spread;
      return [x - margin, x + margin];
    }),
    Infinity,
  ];
  const parts: StrokePart[] = [];
  for (let k = 0; k < bounds.length; k += 2) {
    const inside = (x: number) => x > bounds[k]! && x < bounds[k + 1]!;
    const from = signal.x.findIndex(inside);
    if (from < 0) continue;
    const part = selectSamples(signal, (i) => inside(signal.x[i]!));
    const { x } = part;
    // A part needs two steps of its own to be counted.
    if (
      x.length >= 16 &&
      Math.abs(x[x.length - 1]! - x[0]!) * steps / 2 >= 2
    ) parts.push({ signal: part, from, to: from + x.length });
  }
  return parts;
}

/** Samples `from` to `to` of a stroke. */
export interface StrokePart {
  readonly signal: StrokeSignal;
  readonly from: number;
  readonly to: number;
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
    const { index, direction, start, end } = stroke;
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
      standardUncertainty: count.standardUncertainty,
      used: !disturbed,
      reason: disturbed ? "disturbed" : null,
    };
  });
}

/** Middle value; the upper of the two middle ones. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  return sorted[Math.floor(sorted.length / 2)] ?? NaN;
}
