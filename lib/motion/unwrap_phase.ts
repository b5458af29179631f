import { checkpoint } from "../progress/mod.ts";
import { detectFringes, type Detection, directionsOf } from "./detection.ts";
import {
  labelsOf,
  nearestExtremes,
  otherReadings,
  type Reading,
} from "./hypotheses.ts";
import { cutLabels } from "./cut_labels.ts";
import { type EndReading, otherEnds } from "./end_readings.ts";
import { isExhausted } from "./effort.ts";
import { fillGaps } from "./gaps.ts";
import { fringeModel } from "./fringe_model.ts";
import { jumpLabels, labelBetween } from "./jump_labels.ts";
import { moveJumps } from "./jump_edges.ts";
import { fitPhase, type PhaseFit } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import { findMisfits, tracePhase } from "./phase_residuals.ts";
import {
  chooseSpacing,
  firstSpacings,
  fitAnew,
  fitReading,
  fitsNoise,
  score,
} from "./reading_fit.ts";
import { followsSignal, isSound, seekReading } from "./sought_reading.ts";

export { fitsNoise } from "./reading_fit.ts";

/** φ0 of a record, and how it was read. */
export interface Unwrapped {
  readonly fit: PhaseFit;
  readonly reading: Reading;
  readonly detection: Detection;
  /** Other readings of the ends that leave no more than chance allows. */
  readonly otherEnds: readonly EndReading[];
}

/** Logarithmic asymmetries of the legs that are tried. */
const triedAsymmetries = [null, 0, 0.4, 0.9, 1.5] as const;
const triedShares = [0.5, 0.3, 0.7] as const;
const mostReadings = 8;
const mostRounds = 5;
const mostFailures = 4;
/** Twice the log-likelihood by which another reading of an end must be better. */
const adoptedExcess = 2;
const triedEnds = 3;
/** It may be chance up to here: one in a thousand. */
const possibleExcess = 14;
/**
 * Distances of knots at which wrong readings are looked for: multiples of the
 * fit's own, and at least so many of the shortest half fringes.
 */
const triedStiffness = [
  { knots: 1, legs: 0 },
  { knots: 2.5, legs: 2 },
  { knots: 6, legs: 5 },
] as const;

/**
 * Unwraps a record without knowing the feedback: reads it in several ways, fits
 * each, keeps the one that leaves least, mends the places that do not fit, and
 * chooses the knots by the Akaike criterion.
 *
 * @param signal The signal.
 * @param mends Whether places that do not fit are read anew, which takes time.
 * @returns φ0, feedback and levels, or `null` if there is no fringe.
 */
export function unwrapPhase(
  signal: Float64Array,
  mends = true,
): Unwrapped | null {
  const filled = signal.includes(NaN) ? fillGaps(signal) : signal;
  const detection = detectFringes(filled);
  if (detection === null) return null;
  // At both ends the target may turn where too little is seen to tell; the
  // first fits leave the ends out.
  const inner = withoutEnds(signal, detection);
  let best: { reading: Reading; fit: PhaseFit } | null = null;
  search: for (const reading of readRecord(filled, detection)) {
    for (const { spacing, feedback } of starts(signal, detection, reading)) {
      const fit = fitReading(
        inner,
        detection,
        reading,
        spacing,
        null,
        8,
        feedback,
      );
      if (best !== null && !(score(fit) < score(best.fit))) continue;
      best = { reading, fit };
      if (fitsNoise(fit, detection)) break search;
    }
  }
  if (best === null) return null;
  let { reading } = best;
  let fit = chooseSpacing(inner, detection, reading, best.fit, mends);
  if (inner !== signal && mends) {
    reading = settleEnds(signal, detection, reading, fit);
    fit = fitAnew(signal, detection, reading, fit.parameters);
  }
  for (let round = 0; mends && round < mostRounds; round++) {
    if (isExhausted(detection)) break;
    // A stiff spline that leaves only noise has nothing to hide.
    if (fitsNoise(fit, detection) && fit.spacing > 6 * detection.fastest) break;
    let mended: Reading | null = null;
    for (const { knots, legs } of triedStiffness) {
      const spacing = Math.round(
        Math.max(fit.spacing * knots, detection.fastest * legs),
      );
      if (spacing > signal.length / 4) continue;
      const stiff = spacing === fit.spacing
        ? fit
        : fitReading(signal, detection, reading, spacing, fit.parameters, 8);
      mended = mend(signal, detection, reading, stiff);
      if (mended !== null) break;
    }
    if (mended === null) break;
    const next = fitAnew(signal, detection, mended, fit.parameters);
    if (!(score(next) < score(fit))) break;
    reading = mended;
    fit = next;
  }
  if (mends) {
    fit = withJumpsMoved(signal, detection, fit);
    if (!isSound(signal, detection, fit)) {
      ({ reading, fit } = seekReading(signal, detection, { reading, fit }));
      fit = withJumpsMoved(signal, detection, fit);
    }
  }
  let ends: EndReading[] = [];
  for (let round = 0; mends && round < mostRounds; round++) {
    // Where a fit does not follow, little differences say nothing.
    if (!followsSignal(signal, detection, fit)) break;
    ends = otherEnds(signal, fit);
    let better: { reading: Reading; fit: PhaseFit } | null = null;
    for (const { phase, excess } of ends.slice(0, triedEnds)) {
      if (excess > -adoptedExcess || isExhausted(detection)) break;
      const { labels } = fit;
      const other: Reading = { kind: "searched", phase, labels };
      const next = chooseSpacing(
        signal,
        detection,
        other,
        fitReading(signal, detection, other, fit.spacing, fit.parameters, 10),
      );
      if (score(next) < score(better?.fit ?? fit)) {
        better = { reading: other, fit: next };
      }
    }
    if (better === null) break;
    ({ reading, fit } = better);
  }
  if (fit.parameters.q < 0) {
    reading = reversed(reading, signal.length);
    fit = reversedFit(fit, labelsOf(reading, detection, signal.length));
    ends = ends.map((end) => ({
      ...end,
      phase: end.phase.map((value) => -value),
    }));
  }
  const possible = ends.filter(({ excess }) => excess < possibleExcess);
  return { fit, reading, detection, otherEnds: possible };
}

/** The same reading with the motion the other way round. */
function reversed(reading: Reading, sampleCount: number): Reading {
  if (reading.kind === "smooth") {
    return { ...reading, direction: reading.direction.map((way) => -way) };
  }
  const jumps = reading.labels.jumps.map((jump) => ({
    ...jump,
    sign: -jump.sign,
  }));
  if (reading.kind === "jumps") {
    return { kind: "jumps", labels: labelBetween(jumps, sampleCount) };
  }
  const pieces = reading.labels.pieces.map((piece) => ({
    ...piece,
    origin: -piece.origin,
    sign: -piece.sign,
  }));
  return {
    ...reading,
    labels: { ...reading.labels, jumps, pieces },
    phase: reading.phase.map((value) => -value),
  };
}

/** The fit with its jumps where it says they are. */
function withJumpsMoved(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): PhaseFit {
  let best = fit;
  for (let round = 0; round < mostRounds; round++) {
    const labels = moveJumps(signal, best);
    if (labels === null) break;
    const next = fitPhase({
      signal,
      spacing: best.spacing,
      labels,
      coefficients: best.coefficients,
      noise: Math.max(detection.scale.noise, 0.02 * best.parameters.amplitude),
      parameters: best.parameters,
      fitFeedback: true,
      fitLevels: true,
      iterations: 10,
    });
    if (!(next.residualSquares < best.residualSquares)) break;
    best = next;
  }
  return best;
}

/** The same signal read with the motion the other way round: ψ becomes -ψ. */
function reversedFit(fit: PhaseFit, labels: PhaseLabels): PhaseFit {
  const { parameters, coefficients, covariance, free } = fit;
  const q = free.indexOf(1);
  const count = free.length;
  return {
    ...fit,
    coefficients: coefficients.map((value) => -value),
    parameters: { ...parameters, q: -parameters.q },
    model: fringeModel(
      parameters.p,
      -parameters.q,
      fit.noise / parameters.amplitude,
    ),
    covariance: covariance.map((value, i) =>
      (Math.floor(i / count) === q) !== (i % count === q) ? -value : value
    ),
    coupling: fit.coupling.map((column, a) =>
      a === q ? column : column.map((value) => -value)
    ),
    labels: { ...labels, firstBranch: -fit.labels.firstBranch },
  };
}

const noTurns = { turnsAtFirst: false, turnsAtLast: false };
const endExtremes = 3;

/** The signal with what lies outside of the third extreme from each end left out. */
function withoutEnds(
  signal: Float64Array,
  detection: Detection,
): Float64Array {
  const { index } = detection.extremes;
  if (index.length < 6 * endExtremes) return signal;
  const inner = signal.slice();
  inner.fill(NaN, 0, index[endExtremes - 1]!);
  inner.fill(NaN, index[index.length - endExtremes]! + 1);
  return inner;
}

/** The reading of both ends that leaves least, feedback held. */
function settleEnds(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
): Reading {
  const { index } = detection.extremes;
  const count = index.length;
  const reach = 3 * endExtremes;
  // A loose spline follows any reading; a stiff one tells them apart.
  const spacing = Math.max(fit.spacing, Math.round(4 * detection.fastest));
  let current = reading;
  for (const atStart of [true, false]) {
    const place = atStart ? index[1]! : index[count - 2]!;
    const inside = atStart ? index[reach]! : index[count - 1 - reach]!;
    const from = atStart ? 0 : Math.max(0, inside - 2 * spacing);
    const to = atStart
      ? Math.min(signal.length, inside + 2 * spacing)
      : signal.length;
    let least = 0.9 *
      localSquares(signal, detection, current, fit, from, to, spacing);
    let best = current;
    for (
      const other of otherReadings(current, signal, detection, place, place)
    ) {
      const squares = localSquares(
        signal,
        detection,
        other,
        fit,
        from,
        to,
        spacing,
      );
      if (squares < least) {
        least = squares;
        best = other;
      }
    }
    current = best;
  }
  return current;
}

/** The readings worth a fit, each once. */
function readRecord(signal: Float64Array, detection: Detection): Reading[] {
  const readings: Reading[] = [];
  const seen = new Set<string>();
  const add = (reading: Reading, key: string) => {
    if (seen.has(key)) return;
    seen.add(key);
    readings.push(reading);
  };
  for (const asymmetry of triedAsymmetries) {
    const { direction } = directionsOf(detection, asymmetry);
    add(
      { kind: "smooth", direction, ends: noTurns },
      `s${direction.join()}`,
    );
  }
  const width = Math.max(1, Math.floor(detection.fastest / 8));
  for (const share of triedShares) {
    const labels = jumpLabels(signal, detection.extremes, width, share);
    if (labels === null) continue;
    const key = labels.jumps.map(({ first, sign }) => first * sign).join();
    add({ kind: "jumps", labels }, `j${key}`);
  }
  // So little motion that φF stays on one branch.
  if (detection.extremes.index.length < 40) {
    add({ kind: "jumps", labels: labelBetween([], signal.length) }, "j");
  }
  return readings.slice(0, mostReadings);
}

/** Knots and feedback that are tried first; `null` takes it from the labels. */
function starts(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
): { spacing: number; feedback: number | null }[] {
  const feedbacks = reading.kind === "jumps" ? [null, 2, 5] : [null];
  return feedbacks.flatMap((feedback) =>
    firstSpacings(signal, detection).map((spacing) => ({ spacing, feedback }))
  );
}

/**
 * A reading that leaves less where the fit does not follow the signal, or `null`
 * if none does. A stiff spline shows a wrong reading more clearly.
 */
export function mend(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
): Reading | null {
  const noise = detection.scale.noise / fit.parameters.amplitude;
  const window = Math.max(
    8,
    Math.round(Math.min(fit.spacing, detection.fastest)),
  );
  const misfits = findMisfits(tracePhase(signal, fit), window, noise)
    .sort((a, b) => b.excess - a.excess);
  let current = reading;
  let failures = 0;
  for (const { first, last } of misfits) {
    if (failures >= mostFailures) break;
    checkpoint(NaN, "mend phase");
    const { index } = detection.extremes;
    const near = nearestExtremes(detection, first, last);
    const before = index[Math.max(0, near[0]! - 3)]!;
    const after = index[Math.min(index.length - 1, near.at(-1)! + 3)]!;
    const from = Math.max(0, Math.min(first, before) - 2 * fit.spacing);
    const to = Math.min(
      signal.length,
      Math.max(last, after) + 2 * fit.spacing,
    );
    let best = current;
    const now = localSquares(signal, detection, current, fit, from, to);
    // Nothing is left to mend where only noise is left.
    const enough = 1.3 * Math.max(noise, 0.002) ** 2 * (to - from);
    if (now < enough) continue;
    let least = now;
    for (
      const other of otherReadings(current, signal, detection, first, last)
    ) {
      const squares = localSquares(signal, detection, other, fit, from, to);
      if (squares < least) {
        least = squares;
        best = other;
      }
      if (least < enough) break;
    }
    const variance = Math.max(noise, 0.002) ** 2;
    if (best !== current && least < 0.9 * now && now - least > 30 * variance) {
      current = best;
      failures = 0;
    } else failures++;
  }
  return current === reading ? null : current;
}

/** Squared residuals of a reading on a part of the record, feedback held. */
function localSquares(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
  from: number,
  to: number,
  spacing = fit.spacing,
): number {
  const labels = cutLabels(
    labelsOf(reading, detection, signal.length),
    from,
    to,
  );
  const local = fitPhase({
    signal: signal.subarray(from, to),
    spacing: Math.max(4, Math.min(spacing, Math.floor((to - from) / 6))),
    labels,
    parameters: fit.parameters,
    noise: Math.max(fit.noise, 0.02 * fit.parameters.amplitude),
    fitFeedback: false,
    fitLevels: false,
    iterations: 6,
  });
  return local.residualSquares;
}
