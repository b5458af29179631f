import type { Extremes } from "./extremes.ts";
import type { Jump, LabelledPiece, PhaseLabels } from "./phase_labels.ts";
import { quantile } from "./signal_scale.ts";

/**
 * Finds the jumps of φF at moderate and strong feedback, one per steep leg: down
 * where the target recedes, up where it approaches; and labels what lies between
 * with the rising half turn of its branch.
 *
 * @param signal The signal; not smoothed, so that edges keep their place.
 * @param extremes Its extremes.
 * @param width Samples over which an edge may spread.
 * @param share Smallest jump over the typical one of its direction.
 * @returns The labels, or `null` if no leg has a step.
 */
export function jumpLabels(
  signal: Float64Array,
  extremes: Extremes,
  width: number,
  share = 0.5,
): PhaseLabels | null {
  const { index, startsWithMaximum } = extremes;
  const legs = index.length + 1;
  const n = signal.length;
  const average = Math.max(1, Math.min(4, width));
  const places = new Int32Array(legs);
  const sizes = new Float64Array(legs);
  const rising = (k: number) => (k % 2 === 0) === startsWithMaximum;
  for (let k = 0; k < legs; k++) {
    // The edge may lie just outside of the extremes that noise has moved.
    const first = k === 0 ? 0 : Math.max(0, index[k - 1]! - width);
    const last = k === legs - 1 ? n - 1 : Math.min(n - 1, index[k]! + width);
    const step = largestStep(
      signal,
      first,
      last,
      width,
      average,
      rising(k) ? 1 : -1,
    );
    sizes[k] = step.size;
    places[k] = step.place;
  }
  const typical = [1, -1].map((way) =>
    quantileOf(
      Array.from(sizes).filter((_, k) => rising(k) === (way === 1)),
      0.75,
    )
  );
  const largest = Math.max(...typical);
  if (!(largest > 0)) return null;
  const jumps: Jump[] = [];
  for (let k = 0; k < legs; k++) {
    const size = sizes[k]!;
    const own = typical[rising(k) ? 0 : 1]!;
    if (size < share * Math.max(own, 0.4 * largest)) continue;
    // A slow leg beside a jump is no jump, however fast the target goes.
    const beside = Math.max(sizes[k - 1] ?? 0, sizes[k + 1] ?? 0);
    if (size < 0.45 * beside) continue;
    const jump = edge(signal, places[k]!, width, rising(k) ? -1 : 1);
    const previous = jumps.at(-1);
    if (previous !== undefined && jump.first < previous.last) continue;
    jumps.push(jump);
  }
  return labelBetween(jumps, n);
}

function quantileOf(values: number[], fraction: number): number {
  return values.length === 0 ? 0 : quantile(values, fraction);
}

/** The steepest edge: mean after minus mean before, and where it starts. */
export function largestStep(
  signal: Float64Array,
  first: number,
  last: number,
  width: number,
  average: number,
  sign: number,
): { size: number; place: number } {
  let size = 0;
  let place = first;
  for (let i = first; i + width <= last; i++) {
    let sum = 0;
    for (let a = 0; a < average; a++) {
      sum += signal[Math.min(last, i + width + a)]! -
        signal[Math.max(first, i - a)]!;
    }
    const step = sign * sum / average;
    if (step > size) {
      size = step;
      place = i;
    }
  }
  return { size, place };
}

/** Narrows a step down to the samples of its edge. */
export function edge(
  signal: Float64Array,
  place: number,
  width: number,
  sign: number,
): Jump {
  const slope = (i: number) => -sign * (signal[i + 1]! - signal[i]!);
  let steepest = place;
  let largest = 0;
  for (let i = place; i < place + width; i++) {
    const step = slope(i);
    if (step > largest) {
      largest = step;
      steepest = i;
    }
  }
  let first = steepest;
  let last = steepest + 1;
  while (first > place && slope(first - 1) > 0.3 * largest) first--;
  while (last < place + width && slope(last) > 0.3 * largest) last++;
  return { first, last, sign };
}

/** Labels what lies between jumps. */
export function labelBetween(
  jumps: readonly Jump[],
  sampleCount: number,
): PhaseLabels {
  const pieces: LabelledPiece[] = [];
  let branch = 0;
  let first = 0;
  for (const jump of [...jumps, null]) {
    const last = jump === null ? sampleCount - 1 : jump.first;
    pieces.push({ first, last, origin: 2 * Math.PI * branch, sign: -1 });
    if (jump === null) break;
    branch += jump.sign;
    first = jump.last;
  }
  return {
    pieces,
    jumps,
    trusted: { low: -0.8, high: 0.65 },
    mayFold: true,
    firstBranch: 0,
  };
}
