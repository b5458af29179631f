import { cutLabels } from "./cut_labels.ts";
import { cutParameters } from "./fringe_height.ts";
import { fitPhase, type PhaseFit } from "./phase_fit.ts";
import { tracePhase } from "./phase_residuals.ts";
import { phaseAt } from "./phase_system.ts";
import { splineThrough } from "./spline_through.ts";

/**
 * Another reading of a turn of the target: it may have turned just before an
 * extreme of the fringe instead of just after, or, at an end of the record, turned
 * there instead of passing it, and the samples hardly tell.
 */
export interface TurnReading {
  /** First sample that reads otherwise. */
  readonly first: number;
  /** Last sample that reads otherwise. */
  readonly last: number;
  /** φ0 of these samples in this reading, in rad. */
  readonly phase: Float64Array;
  /**
   * Its squared residuals minus those of the fit, over the noise's square, with
   * two more for each coefficient that either needs (1).
   */
  readonly excess: number;
}

/** Extremes from each end at which another reading is tried. */
const mostPlaces = 4;
/** Knots of the fit on the inner side of such an extreme. */
const knotsInside = 6;
/** Closer to an extreme of cos than this φF may turn there, in rad. */
const nearExtreme = 0.6;
/** A turn farther beyond an extreme than this cannot be mistaken, in rad. */
const mostBeyond = 1.3;
/** How near to an extreme the part around a turn is that is mirrored, in rad. */
const triedWidths = [0.6, 0.3, 0.15] as const;
/** Turns inside of a record that are tried. */
const mostTurns = 400;
/** Multiples of the fit's distance of knots that are tried. */
const triedStiffness = [1, 2] as const;
/** It may be chance up to here: one in a thousand. */
const possibleExcess = 14;
/** Readings that are no farther apart are the same, in rad. */
const leastApart = 0.1;

/** Parts of a record around one turn, the widest first. */
interface Turn {
  /** φF at which it is mirrored, in rad. */
  readonly level: number;
  readonly parts: readonly { readonly first: number; readonly last: number }[];
}

/** φ0 and φF of a fit. */
interface Course {
  readonly phase: Float64Array;
  /** φ0 where φF is mirrored at a level. */
  readonly mirrored: (sample: number, level: number) => number;
}

/**
 * Reads the turns of a record the other way: mirrors φF at the extreme around
 * each, and at each of the outermost extremes of the record; fits that with the
 * feedback held, and compares what is left.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @returns The readings that leave no more than chance allows, those that leave
 * least first.
 */
export function otherTurns(
  signal: Float64Array,
  fit: PhaseFit,
): TurnReading[] {
  const n = signal.length;
  const { p, q, height } = fit.parameters;
  const { phase, sine, cosine } = tracePhase(signal, fit);
  const heightAt = (i: number) => height === null ? 1 : height.values[i]!;
  // φF without the modulo: φ0 = φF + h (p sin φF + q cos φF).
  const whole = phase.map((value, i) =>
    value - heightAt(i) * (p * sine[i]! + q * cosine[i]!)
  );
  const course: Course = {
    phase,
    // sin changes its sign and cos does not.
    mirrored: (i, level) =>
      2 * level - whole[i]! - heightAt(i) * (p * sine[i]! - q * cosine[i]!),
  };
  const turns: Turn[] = [];
  for (const atStart of [false, true]) {
    const limit = innermost(fit, n, atStart);
    for (
      const place of extremesAt(whole, atStart, limit).slice(0, mostPlaces)
    ) {
      const first = atStart ? 0 : place;
      const last = atStart ? place : n - 1;
      const level = Math.PI * Math.round(whole[place]! / Math.PI);
      turns.push({ level, parts: [{ first, last }] });
    }
  }
  turns.push(...turnsInside(whole, fit).slice(0, mostTurns));
  return turns.flatMap((turn) => readOtherwise(signal, fit, course, turn))
    .sort((a, b) => a.excess - b.excess);
}

/** A run of samples where φF is near one extreme of the fringe. */
interface Approach {
  readonly first: number;
  readonly last: number;
  /** φF of the extreme, in rad. */
  readonly level: number;
}

/**
 * Where φF comes back from an extreme: between the two places where it passes it,
 * or around the place where it almost reaches it.
 */
function turnsInside(
  whole: Float64Array,
  { labels, model }: PhaseFit,
): Turn[] {
  const n = whole.length;
  const jumps = model.feedback > 1 ? labels.jumps : [];
  const turns: Turn[] = [];
  let next = 0;
  const isClear = (first: number, last: number) => {
    while (next < jumps.length && jumps[next]!.last <= first) next++;
    const jumped = next < jumps.length && jumps[next]!.first < last;
    return !jumped && first > 0 && last < n - 1;
  };
  let before: Approach | null = null;
  for (const approach of approachesOf(whole)) {
    const { first, last, level } = approach;
    const side = (i: number) =>
      Math.sign(whole[Math.max(0, Math.min(n - 1, i))]! - level);
    if (side(first - 1) === side(last + 1)) {
      const parts = triedWidths.flatMap((within) =>
        narrowed(whole, approach, within) ?? []
      ).filter((part) => isClear(part.first, part.last));
      if (parts.length > 0) turns.push({ level, parts });
    } else if (
      before !== null && before.level === level &&
      side(before.last + 1) === side(first - 1)
    ) {
      const from = crossing(whole, before);
      const to = crossing(whole, approach);
      let beyond = 0;
      for (let i = from; i <= to; i++) {
        beyond = Math.max(beyond, Math.abs(whole[i]! - level));
      }
      if (beyond < mostBeyond && isClear(from, to)) {
        turns.push({ level, parts: [{ first: from, last: to }] });
      }
    }
    before = approach;
  }
  return turns;
}

function approachesOf(whole: Float64Array): Approach[] {
  const approaches: Approach[] = [];
  let first = -1;
  let level = NaN;
  for (let i = 0; i <= whole.length; i++) {
    const own = Math.PI * Math.round(whole[i]! / Math.PI);
    const near = Math.abs(whole[i]! - own) < nearExtreme;
    if (first >= 0 && !(near && own === level)) {
      approaches.push({ first, last: i - 1, level });
      first = -1;
    }
    if (near && first < 0) {
      first = i;
      level = own;
    }
  }
  return approaches;
}

/** The part of an approach that comes closer than a distance, or `null`. */
function narrowed(
  whole: Float64Array,
  { first, last, level }: Approach,
  within: number,
): { first: number; last: number } | null {
  let from = first;
  let to = last;
  while (from < to && Math.abs(whole[from]! - level) > within) from++;
  while (to > from && Math.abs(whole[to]! - level) > within) to--;
  return to > from ? { first: from, last: to } : null;
}

/** Sample where φF passes the level of an approach. */
function crossing(
  whole: Float64Array,
  { first, last, level }: Approach,
): number {
  let place = first;
  while (
    place < last && (whole[place]! - level) * (whole[first]! - level) > 0
  ) {
    place++;
  }
  return place;
}

/** Outermost sample that a jump fixes: nothing is mirrored across it. */
function innermost(fit: PhaseFit, n: number, atStart: boolean): number {
  const jumps = fit.model.feedback > 1 ? fit.labels.jumps : [];
  if (atStart) return jumps[0]?.first ?? n - 1;
  return jumps.at(-1)?.last ?? 0;
}

/** The places where φF passes or almost reaches a multiple of π, from one end. */
function extremesAt(
  whole: Float64Array,
  atStart: boolean,
  limit: number,
): number[] {
  const n = whole.length;
  const places: number[] = [];
  const distance = (i: number) => {
    const turns = whole[i]! / Math.PI;
    return Math.abs(turns - Math.round(turns)) * Math.PI;
  };
  const step = atStart ? 1 : -1;
  for (
    let i = atStart ? 2 : n - 3;
    i > 1 && i < n - 2 &&
    (atStart ? i < limit : i > limit);
    i += step
  ) {
    if (
      distance(i) < nearExtreme && distance(i) <= distance(i - 1) &&
      distance(i) < distance(i + 1)
    ) places.push(i);
  }
  return places;
}

/** The other readings of a turn, fitted like the one that is kept. */
function readOtherwise(
  signal: Float64Array,
  fit: PhaseFit,
  { phase, mirrored }: Course,
  { level, parts }: Turn,
): TurnReading[] {
  const { spacing } = fit;
  const inside = knotsInside * spacing;
  const widest = parts[0]!;
  // From a knot on, so that the spline is part of that of the fit.
  const knot = Math.floor(Math.max(0, widest.first - inside) / spacing);
  const from = knot * spacing;
  const to = Math.min(signal.length, widest.last + 1 + inside);
  if (to - from < 4 * spacing) return [];
  const labels = cutLabels(fit.labels, from, to);
  const parameters = cutParameters(fit.parameters, from, to);
  const variance = (fit.noise / parameters.amplitude) ** 2;
  /** The fit that costs least, if that is less than `most`. */
  const fitted = (
    course: Float64Array,
    most: number,
    own: Float64Array,
  ) => {
    let best: { fit: PhaseFit; cost: number } | null = null;
    for (const stiffness of triedStiffness) {
      const start = stiffness === 1
        ? own
        : splineThrough(course, stiffness * spacing);
      const forKnots = 2 * start.length;
      const least = best?.cost ?? most;
      const next = fitPhase({
        signal: signal.subarray(from, to),
        spacing: stiffness * spacing,
        labels,
        coefficients: start,
        noise: fit.noise,
        parameters,
        fitFeedback: false,
        fitLevels: false,
        mostSquares: (least - forKnots) * variance,
        iterations: 8,
      });
      const cost = next.residualSquares / variance + forKnots;
      if (cost < least) best = { fit: next, cost };
    }
    return best;
  };
  /** φ0 of a spline in a part, and how far it is from that of the fit, in rad. */
  const courseOf = (
    { spacing, coefficients }: Pick<PhaseFit, "spacing" | "coefficients">,
    first: number,
    last: number,
  ) => {
    const course = phase.slice(first, last + 1);
    let apart = 0;
    for (let i = first; i <= last; i++) {
      const value = phaseAt(coefficients, spacing, i - from);
      apart = Math.max(apart, Math.abs(value - phase[i]!));
      course[i - first] = value;
    }
    return { course, apart };
  };
  let kept: ReturnType<typeof fitted> = null;
  const readings: TurnReading[] = [];
  for (const { first, last } of parts) {
    const other = phase.slice(from, to);
    for (let i = first; i <= last; i++) other[i - from] = mirrored(i, level);
    const start = { spacing, coefficients: splineThrough(other, spacing) };
    // Knots so far apart do not follow it, nor a narrower part.
    if (courseOf(start, first, last).apart < leastApart) break;
    kept ??= fitted(
      phase.subarray(from, to),
      Infinity,
      fit.coefficients.slice(knot, knot + start.coefficients.length),
    );
    if (kept === null) break;
    const next = fitted(other, kept.cost + possibleExcess, start.coefficients);
    if (next === null) continue;
    const { course, apart } = courseOf(next.fit, first, last);
    // It has found its way back to the same course, and a narrower part will.
    if (apart < leastApart) break;
    const excess = next.cost - kept.cost;
    readings.push({ first, last, phase: course, excess });
  }
  return readings;
}
