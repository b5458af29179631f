import type { Extremes } from "./extremes.ts";
import type { Legs } from "./legs.ts";
import type { LabelledPiece, PhaseLabels } from "./phase_labels.ts";

/** What happens at the outermost extremes, beyond which there is no whole leg. */
export interface SmoothEnds {
  /** Whether the target turned at the first extreme. */
  readonly turnsAtFirst: boolean;
  /** Whether the target turned at the last extreme. */
  readonly turnsAtLast: boolean;
}

/**
 * Labels each leg with its half turn of φF, from the way of each leg; for weak
 * feedback, where nothing jumps.
 *
 * @param extremes The extremes.
 * @param legs The legs between them.
 * @param direction 1 receding, -1 approaching, per leg.
 * @param sampleCount Samples of the signal.
 * @param ends Whether it turned at the outermost extremes.
 * @returns The labels.
 */
export function smoothLabels(
  extremes: Extremes,
  legs: Legs,
  direction: Int8Array,
  sampleCount: number,
  ends: SmoothEnds = { turnsAtFirst: false, turnsAtLast: false },
): PhaseLabels {
  const pieces: LabelledPiece[] = [];
  // Extremes are numbered by half turns: even for maxima.
  let number = extremes.startsWithMaximum ? 0 : 1;
  const add = (first: number, last: number, from: number, way: number) => {
    const fromMaximum = from % 2 === 0;
    pieces.push({
      first,
      last,
      origin: Math.PI * (fromMaximum ? from : from + way),
      sign: fromMaximum ? way : -way,
    });
  };
  const { count } = legs;
  const turned = (k: number) =>
    k > 0 && k < count && direction[k - 1] !== direction[k];
  const firstWay = (direction[0] ?? 1) * (ends.turnsAtFirst ? -1 : 1);
  // At both ends the target may turn unseen: label no more than half a leg.
  const end = (k: number) => Math.round(legs.duration[k] ?? 0);
  add(
    Math.max(0, extremes.index[0]! - end(0)),
    extremes.index[0]! - 1,
    number - firstWay,
    firstWay,
  );
  for (let k = 0; k < count; k++) {
    // Close to a turning point the signal may have gone past the extreme.
    const first = turned(k) ? Math.ceil(legs.low[k]!) : extremes.index[k]!;
    const last = turned(k + 1)
      ? Math.floor(legs.low[k]! + legs.duration[k]!)
      : extremes.index[k + 1]! - 1;
    add(first, last, number, direction[k]!);
    number += direction[k]!;
  }
  add(
    extremes.index[count]!,
    Math.min(sampleCount, extremes.index[count]! + end(count - 1)) - 1,
    number,
    (direction[count - 1] ?? 1) * (ends.turnsAtLast ? -1 : 1),
  );
  return {
    pieces,
    jumps: [],
    trusted: { low: -0.93, high: 0.93 },
    mayFold: false,
    firstBranch: 0,
  };
}
