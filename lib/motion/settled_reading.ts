import { checkpoint } from "../progress/mod.ts";
import { cutLabels } from "./cut_labels.ts";
import type { Detection } from "./detection.ts";
import { drawSpline } from "./drawn_spline.ts";
import { isExhausted } from "./effort.ts";
import { heightSpread } from "./feedback_doubt.ts";
import { cutParameters } from "./fringe_height.ts";
import { fitHeight } from "./height_course.ts";
import {
  labelsOf,
  nearestExtremes,
  otherReadings,
  type Reading,
} from "./hypotheses.ts";
import { moveJumps } from "./jump_edges.ts";
import { fitPhase, type PhaseFit } from "./phase_fit.ts";
import { findMisfits, tracePhase } from "./phase_residuals.ts";
import { fitAnew, fitReading, fitsNoise, score } from "./reading_fit.ts";
import { type FittedReading, isFirm } from "./sought_reading.ts";

const mostRounds = 5;
const mostFailures = 4;
const mostHeights = 3;
const localIterations = 6;
/** A stiff fit that leaves so many times more does not follow the motion (1). */
const hopeless = 5;
/** Where stiff knots do not follow for longer they do not follow the motion. */
const longestMisfit = 6;
const jumpIterations = 10;
/**
 * Distances of knots at which wrong readings are looked for: multiples of the
 * fit's own, and at least so many of the shortest half fringes.
 */
const triedStiffness = [
  { knots: 1, legs: 0 },
  { knots: 2.5, legs: 2 },
  { knots: 6, legs: 5 },
] as const;

/** A reading with the places mended that do not fit. */
export function settled(
  signal: Float64Array,
  detection: Detection,
  start: FittedReading,
): FittedReading {
  let { reading } = start;
  // Jumps that are a sample off look like fringes that do not fit.
  let fit = withJumpsMoved(signal, detection, start.fit);
  for (let round = 0; round < mostRounds; round++) {
    if (isExhausted(detection)) break;
    // A stiff spline that leaves only noise has nothing to hide.
    const leavesNoise = fitsNoise(fit, detection);
    if (leavesNoise && fit.spacing >= 6 * detection.fastest) break;
    let mended: Reading | null = null;
    let best = fit;
    for (const { knots, legs } of triedStiffness) {
      const spacing = Math.round(
        Math.max(fit.spacing * knots, detection.fastest * legs),
      );
      if (spacing > signal.length / 4) continue;
      const stiff = spacing === fit.spacing
        ? fit
        : fitReading(signal, detection, reading, spacing, fit.parameters, 8, {
          mostSquares: hopeless ** 2 * fit.residualSquares,
        });
      const longest = stiff === fit ? Infinity : longestMisfit * spacing;
      mended = mend(signal, detection, reading, stiff, longest);
      if (mended !== null) break;
      if (score(stiff) < score(best)) best = stiff;
    }
    if (mended === null) {
      // Stiffer knots that follow as well are no reading more to look for.
      if (best === fit) break;
      fit = best;
      continue;
    }
    // Beside a fit that leaves only noise the knots need not be sought afresh.
    const { spacing, parameters } = fit;
    const fitted = leavesNoise
      ? fitReading(signal, detection, mended, spacing, parameters, 10)
      : fitAnew(signal, detection, mended, parameters);
    const next = withJumpsMoved(signal, detection, fitted);
    if (!(score(next) < score(fit))) break;
    reading = mended;
    fit = next;
  }
  return { reading, fit };
}

/** The reading with the course of the fringes' height, where it changes. */
export function withHeight(
  signal: Float64Array,
  detection: Detection,
  start: FittedReading,
): FittedReading {
  let best = start;
  for (let round = 0; round < mostHeights; round++) {
    const { reading } = best;
    if (!mayHideHeight(signal, detection, best.fit)) break;
    const fit = fitHeight(signal, detection, reading, best.fit);
    if (fit === null) break;
    best = settled(signal, detection, { reading, fit });
    if (best.reading === reading) break;
  }
  return best;
}

/**
 * The fit with the height of the fringes among what is not known.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @param heightSpacing Samples between knots of the height.
 */
export function withFreeHeight(
  signal: Float64Array,
  fit: PhaseFit,
  heightSpacing = fit.parameters.height?.spacing ?? null,
): PhaseFit {
  const { parameters, spacing, labels, coefficients, noise } = fit;
  if (heightSpacing === null) return fit;
  return fitPhase({
    signal,
    spacing,
    labels,
    coefficients,
    noise: Math.max(noise, 0.02 * parameters.amplitude),
    parameters,
    fitFeedback: true,
    fitLevels: true,
    heightSpacing,
    iterations: 12,
  });
}

/**
 * How far φ0 may be off where the height changes faster than its knots let it:
 * what half the distance between them changes.
 *
 * @returns One value per sample, in rad; `null` where no height was fitted.
 */
export function heightDoubt(
  signal: Float64Array,
  fit: PhaseFit,
): Float64Array | null {
  const { height } = fit.parameters;
  if (height === null) return null;
  const closer = withFreeHeight(signal, fit, Math.ceil(height.spacing / 2));
  const change = new Float64Array(signal.length);
  const phase = new Float64Array(signal.length);
  drawSpline(closer.coefficients, closer.spacing, change);
  drawSpline(fit.coefficients, fit.spacing, phase);
  for (let i = 0; i < change.length; i++) change[i]! -= phase[i]!;
  // The level of φ0 is of no account.
  const mean = change.reduce((sum, value) => sum + value, 0) / change.length;
  return change.map((value) => value - mean);
}

function changesHeight(signal: Float64Array, fit: PhaseFit): boolean {
  const { noise, parameters } = fit;
  return heightSpread(
    tracePhase(signal, fit),
    noise / parameters.amplitude,
  ) > 0;
}

/** Whether the fit may hide that the height of the fringes changes. */
export function mayHideHeight(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): boolean {
  return !isFirm(signal, detection, fit) || changesHeight(signal, fit);
}

/** Fits whose jumps are where they say, with their signals. */
const inPlace = new WeakMap<PhaseFit, Float64Array>();

/** The fit with its jumps where it says they are. */
export function withJumpsMoved(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): PhaseFit {
  let best = fit;
  for (
    let round = 0;
    round < mostRounds && inPlace.get(best) !== signal;
    round++
  ) {
    const labels = moveJumps(signal, best);
    if (labels === null) {
      inPlace.set(best, signal);
      break;
    }
    detection.effort.spent += jumpIterations * signal.length;
    const next = fitPhase({
      signal,
      spacing: best.spacing,
      labels,
      coefficients: best.coefficients,
      noise: Math.max(detection.scale.noise, 0.02 * best.parameters.amplitude),
      parameters: best.parameters,
      fitFeedback: true,
      fitLevels: true,
      iterations: jumpIterations,
    });
    if (!(next.residualSquares < best.residualSquares)) break;
    best = next;
  }
  return best;
}

/**
 * A reading that leaves less where the fit does not follow the signal, or `null`
 * if none does. A stiff spline shows a wrong reading more clearly.
 *
 * @param longest Samples of the longest stretch that is looked at.
 */
export function mend(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
  longest = Infinity,
): Reading | null {
  const noise = detection.scale.noise / fit.parameters.amplitude;
  const window = Math.max(
    8,
    Math.round(Math.min(fit.spacing, detection.fastest)),
  );
  const misfits = findMisfits(tracePhase(signal, fit), window, noise)
    .filter(({ first, last }) => last - first < longest)
    .sort((a, b) => b.excess - a.excess);
  let current = reading;
  let failures = 0;
  for (const { first, last } of misfits) {
    if (failures >= mostFailures || isExhausted(detection)) break;
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
      const squares = localSquares(signal, detection, other, fit, from, to, {
        mostSquares: least,
      });
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

/**
 * Squared residuals of a reading on a part of the record, feedback held; more than
 * `mostSquares` are not sought out to the end.
 */
export function localSquares(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
  from: number,
  to: number,
  { spacing = fit.spacing, mostSquares = Infinity }: {
    readonly spacing?: number;
    readonly mostSquares?: number;
  } = {},
): number {
  const labels = cutLabels(
    labelsOf(reading, detection, signal.length),
    from,
    to,
  );
  // Feedback and levels held, an iteration takes half as long.
  detection.effort.spent += localIterations / 2 * (to - from);
  const local = fitPhase({
    signal: signal.subarray(from, to),
    spacing: Math.max(4, Math.min(spacing, Math.floor((to - from) / 6))),
    labels,
    parameters: cutParameters(fit.parameters, from, to),
    noise: Math.max(fit.noise, 0.02 * fit.parameters.amplitude),
    fitFeedback: false,
    fitLevels: false,
    mostSquares,
    iterations: localIterations,
  });
  return local.residualSquares;
}
