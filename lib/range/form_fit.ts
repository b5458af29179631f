import { behindPole } from "./edge_pole.ts";
import {
  followCourse,
  linearColumns,
  nonlinearColumns,
} from "./feedback_columns.ts";
import type { FeedbackFit, FeedbackGuess } from "./feedback_fit.ts";
import {
  difference,
  legendreColumns,
  solveColumns,
} from "./normal_equations.ts";
import { robustDeviation } from "./robust_weights.ts";
import { powerOf, type StrokeSignal } from "./stroke_signal.ts";

/**
 * C up to which nothing jumps and the fringes are smooth, and steps from which on
 * they do not depend on how well C and the power ramp are known.
 */
const smooth = { feedbackParameter: 0.9, steps: 8 } as const;
const mostRounds = 6;
/** Part of the standard uncertainty that may be left to go (1). */
const enough = 0.02;
/** rms of what is left over the robust noise from which on something stands out. */
const disturbed = 1.15;

/** Whether strokes like one may be fitted by {@linkcode fitForm}. */
export function hasForm({ feedbackParameter, steps }: FeedbackGuess): boolean {
  return feedbackParameter < smooth.feedbackParameter && steps > smooth.steps;
}

/**
 * Fits a stroke with the excess-phase equation as {@linkcode fitFeedback} does, but
 * with C and the amplifier's pole held and all samples alike: where these are known
 * from other strokes and the stroke is much like the one that it starts from, one
 * solution of the normal equations is most often enough.
 *
 * @param signal The stroke.
 * @param guess Fit of the stroke before it.
 * @returns The fit; `null` where it does not settle, or some samples stand out.
 */
export function fitForm(
  signal: StrokeSignal,
  guess: FeedbackGuess,
): FeedbackFit | null {
  const { x, y } = signal;
  const { feedbackParameter: c, feedbackUncertainty, growth, keep } = guess;
  /** As the amplifier shows it. */
  const seen = (column: Float64Array) =>
    keep === undefined ? column : behindPole(column, -Math.log(keep), 1);
  const n = x.length;
  const order = guess.phase.length;
  const polynomials = legendreColumns(x, Math.max(2, order));
  const power = powerOf(signal);
  const ramp = power === x ? polynomials : legendreColumns(power, 2);
  const phase = [...guess.phase];
  let offset = guess.offset;
  let a = guess.amplitude * Math.cos(guess.angle);
  let b = guess.amplitude * Math.sin(guess.angle);
  const background = ramp.slice(0, 3).map(seen);
  for (let round = 0; round < mostRounds; round++) {
    const course = followCourse(signal, polynomials, offset, phase, c);
    const [even, odd] = linearColumns(power, ramp, course, growth).slice(3) as [
      Float64Array,
      Float64Array,
    ];
    // All but that by C, which is held.
    const byPhase = nonlinearColumns(
      power,
      polynomials,
      course,
      growth,
      a,
      b,
      c,
      order,
    ).slice(0, -1);
    const columns = [...background, ...[even, odd, ...byPhase].map(seen)];
    const solution = solveColumns(columns, y);
    if (solution === null) return null;
    const { coefficients, residuals, residualSum, variance } = solution;
    let largest = 0;
    for (let k = 5; k < coefficients.length; k++) {
      largest = Math.max(largest, Math.abs(coefficients[k]!));
    }
    // A longer step would leave the basin.
    if (!(largest < 0.7)) return null;
    offset += coefficients[5]!;
    for (let k = 0; k < order; k++) phase[k]! += coefficients[6 + k]!;
    [a, b] = [coefficients[3]!, coefficients[4]!];
    const spread = residualSum / Math.max(1, n - columns.length);
    const uncertainty = Math.sqrt(spread * variance(6));
    // The next step is smaller by about as much as this one is in radians.
    if (largest * largest > enough * uncertainty) continue;
    const noise = robustDeviation(residuals, new Float64Array(n).fill(1));
    if (spread > (disturbed * noise) ** 2) return null;
    const level = new Float64Array(n);
    background.forEach((column, k) => {
      const factor = coefficients[k]!;
      for (let i = 0; i < n; i++) level[i]! += factor * column[i]!;
    });
    return {
      steps: phase[0]! / Math.PI,
      standardUncertainty: uncertainty / Math.PI,
      feedbackParameter: c,
      feedbackUncertainty,
      angle: Math.atan2(b, a),
      offset,
      phase,
      amplitude: Math.hypot(a, b),
      growth,
      fitted: difference(y, residuals),
      background: level,
      noise,
      ...(keep !== undefined && { keep }),
      cost: residualSum / noise ** 2 + 2 * n * Math.log(noise),
      converged: true,
    };
  }
  return null;
}
