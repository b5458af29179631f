import type { Detection } from "./detection.ts";
import { edge, labelBetween, largestStep } from "./jump_labels.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import { type SmoothEnds, smoothLabels } from "./smooth_labels.ts";

/**
 * One reading of the record: which legs go which way, or where φF jumps. Labels
 * follow from it.
 */
export type Reading =
  | {
    readonly kind: "smooth";
    readonly direction: Int8Array;
    readonly ends: SmoothEnds;
  }
  | { readonly kind: "jumps"; readonly labels: PhaseLabels }
  | {
    readonly kind: "searched";
    readonly labels: PhaseLabels;
    /** φ0 of every sample, in rad. */
    readonly phase: Float64Array;
  };

/** The labels of a reading. */
export function labelsOf(
  reading: Reading,
  detection: Detection,
  sampleCount: number,
): PhaseLabels {
  return reading.kind === "smooth"
    ? smoothLabels(
      detection.extremes,
      detection.legs,
      reading.direction,
      sampleCount,
      reading.ends,
    )
    : reading.labels;
}

/** A reading with its jumps where a fit to it has put them. */
export function withJumpsOf(
  reading: Reading,
  { labels }: { readonly labels: PhaseLabels },
): Reading {
  return reading.kind === "smooth" ? reading : { ...reading, labels };
}

/**
 * Other readings that differ from a given one near a place: an extreme turned
 * instead of passed (or the other way round), a jump more, less or elsewhere.
 *
 * @param reading The reading so far.
 * @param signal The signal.
 * @param detection Its fringes.
 * @param first First sample of the place.
 * @param last Last sample of the place.
 * @returns The other readings.
 */
export function otherReadings(
  reading: Reading,
  signal: Float64Array,
  detection: Detection,
  first: number,
  last: number,
): Reading[] {
  // A search has weighed all readings already.
  if (reading.kind === "searched") return [];
  return reading.kind === "smooth"
    ? otherDirections(reading, detection, first, last)
    : otherJumps(reading.labels, signal, detection, first, last);
}

function otherDirections(
  reading: Reading & { readonly kind: "smooth" },
  detection: Detection,
  first: number,
  last: number,
): Reading[] {
  const { direction } = reading;
  const near = nearestExtremes(detection, first, last);
  const readings: Reading[] = [];
  for (let choice = 0; choice < 1 << near.length; choice++) {
    const changed = direction.slice();
    let { turnsAtFirst, turnsAtLast } = reading.ends;
    near.forEach((k, bit) => {
      if ((choice >> bit & 1) === 0) return;
      if (k === 0) turnsAtFirst = !turnsAtFirst;
      else if (k >= direction.length) turnsAtLast = !turnsAtLast;
      else {
        for (let leg = k; leg < changed.length; leg++) {
          changed[leg] = -changed[leg]!;
        }
      }
    });
    const ends = { turnsAtFirst, turnsAtLast };
    if (choice > 0) readings.push({ kind: "smooth", direction: changed, ends });
    // It may be the legs before that go the other way.
    readings.push({
      kind: "smooth",
      direction: changed.map((way) => -way),
      ends,
    });
  }
  return readings;
}

/** The extremes nearest to a place, at most four, in order of time. */
export function nearestExtremes(
  detection: Detection,
  first: number,
  last: number,
): number[] {
  const { index } = detection.extremes;
  const middle = (first + last) / 2;
  let k = 0;
  while (k < index.length && index[k]! < middle) k++;
  const near: number[] = [];
  for (let m = Math.max(0, k - 2); m < Math.min(index.length, k + 2); m++) {
    near.push(m);
  }
  return near;
}

function otherJumps(
  labels: PhaseLabels,
  signal: Float64Array,
  detection: Detection,
  first: number,
  last: number,
): Reading[] {
  const n = signal.length;
  const width = Math.max(1, Math.floor(detection.fastest / 8));
  const near = nearestExtremes(detection, first, last);
  const { index } = detection.extremes;
  const from = Math.max(0, Math.min(first, index[near[0]!]!) - width - 1);
  const to = Math.min(n - 1, Math.max(last, index[near.at(-1)!]!) + width + 1);
  const inside = labels.jumps.filter((jump) =>
    jump.last >= from && jump.first <= to
  ).slice(0, 4);
  const outside = labels.jumps.filter((jump) => !inside.includes(jump));
  const extra = [1, -1].flatMap((sign) => {
    const { size, place } = largestStep(signal, from, to, width, 1, -sign);
    return size > 0 ? [edge(signal, place, width, sign)] : [];
  }).filter((jump) =>
    inside.every((other) =>
      jump.first >= other.last || jump.last <= other.first
    )
  );
  const pool = [...inside, ...extra];
  const present = (1 << inside.length) - 1;
  const readings: Reading[] = [];
  for (let choice = 0; choice < 1 << pool.length; choice++) {
    if (choice === present) continue;
    const chosen = pool.filter((_, bit) => (choice >> bit & 1) === 1);
    const jumps = [...outside, ...chosen].sort((a, b) => a.first - b.first);
    const clear = jumps.every((jump, k) =>
      k === 0 || jump.first >= jumps[k - 1]!.last
    );
    if (clear) {
      readings.push({ kind: "jumps", labels: labelBetween(jumps, n) });
    }
  }
  return readings;
}
