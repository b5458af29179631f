import type { FringeSignal } from "./feedback_course.ts";
import {
  followCourse,
  linearColumns,
  nonlinearColumns,
} from "./feedback_columns.ts";
import { assemble, jumpRows } from "./jump_rows.ts";
import type { FringeFit, StepEstimate } from "./fringe_fit.ts";
import {
  legendreColumns,
  normalSystem,
  solveColumns,
  solveNormal,
} from "./normal_equations.ts";
import { huberWeights, robustDeviation } from "./robust_weights.ts";
import { powerOf, selectSamples, type StrokeSignal } from "./stroke_signal.ts";

/** A stroke fitted with the excess-phase equation. */
export interface FeedbackFit extends StepEstimate {
  /** Feedback parameter C (1). */
  readonly feedbackParameter: number;
  /** Its standard uncertainty from the noise of this stroke (1). */
  readonly feedbackUncertainty: number;
  /**
   * Angle of the fringe on the waveform, arctan α for a signal that follows the
   * power while the current rises, in rad.
   */
  readonly angle: number;
  /** Phase at the middle of the ramp, in rad. */
  readonly offset: number;
  /** Phase against current: coefficients of Legendre polynomials, in rad. */
  readonly phase: readonly number[];
  /** Amplitude of the fringes at the middle of the ramp, in the signal's unit. */
  readonly amplitude: number;
  /** Relative growth of the amplitude over half the ramp (1). */
  readonly growth: number;
  /** Fitted signal, in its unit. */
  readonly fitted: Float64Array;
  /** Fitted power ramp, in the unit of the signal. */
  readonly background: Float64Array;
  /** Robust standard deviation of the residuals, in the unit of the signal. */
  readonly noise: number;
  /** What the iteration made small; comparable between fits of one stroke. */
  readonly cost: number;
  /**
   * What the amplifier keeps of a level from sample to sample (1), where the
   * edges tell it; see {@linkcode fitEdges}.
   */
  readonly keep?: number;
  /**
   * Phase that a steady motion of the target adds from the middle of two joined
   * strokes to their ends, in rad; the steps are those without it.
   */
  readonly drift?: number;
  /** Change of the time constant of the lag, where it was free, in s. */
  readonly lagChange?: number;
  readonly lagUncertainty?: number;
  /** Whether the iteration settled. */
  readonly converged: boolean;
}

/** Where the fit of a stroke like another starts. */
export type FeedbackGuess =
  & FeedbackStart
  & Pick<
    FeedbackFit,
    | "steps"
    | "noise"
    | "amplitude"
    | "angle"
    | "feedbackUncertainty"
    | "keep"
    | "drift"
  >;

/** Where a fit starts. */
export interface FeedbackStart {
  /** Relative growth of the amplitude over half the ramp (1); held. */
  readonly growth: number;
  readonly feedbackParameter: number;
  readonly offset: number;
  readonly phase: readonly number[];
}

/**
 * Fits a stroke with the excess-phase equation: y = Σ bₖPₖ(x) +
 * (1 + gx)(A cos z + B sin z), z + C sin z = t, t = c₀ - c₁P₁(x) - c₂P₂(x) - …
 * with z = φF + arctan α, so that arctan α is in A and B and the phase of a
 * rising current falls. Hysteresis and jumps (C > 1) are followed from the
 * turning point on. Gauss–Newton with written derivatives; samples next to a
 * jump are left out and large residuals weigh less (Huber).
 *
 * @param signal The stroke, or two of them one after the other.
 * @param start Where to start.
 * @param toBeat Cost of another fit of this signal: what is far from it after some
 * rounds is given up.
 */
export function fitFeedback(
  signal: StrokeSignal,
  start: FeedbackStart,
  toBeat = Infinity,
): FeedbackFit | null {
  const { x, y } = signal;
  const n = x.length;
  const order = start.phase.length;
  const polynomials = legendreColumns(x, Math.max(2, order));
  const power = powerOf(signal);
  const ramp = legendreColumns(power, 2);
  const { growth } = start;
  let c = start.feedbackParameter;
  let offset = start.offset;
  let phase = [...start.phase];
  let jumpOffset = 0;
  let best: FeedbackFit | null = null;
  let kept = { c, offset, phase, jumpOffset };
  let bestCost = Infinity;
  let damping = 1e-4;
  let stale = 0;
  const prior = straightPower(signal);
  let shape: FringeSignal | null = null;
  for (let round = 0; round < 40; round++) {
    const course = followCourse(signal, polynomials, offset, phase, c, shape);
    const columns = linearColumns(power, ramp, course, growth);
    const weight = course.weight;
    let linear = solveColumns(columns, y, weight, prior.samples);
    if (linear === null) return best;
    const noise = robustDeviation(linear.residuals, weight) ||
      1e-12 * Math.abs(linear.coefficients[0]!) || 1e-300;
    const robust = huberWeights(linear.residuals, weight, 3 * noise);
    linear = solveColumns(columns, y, robust, prior.samples) ?? linear;
    const [level, slope, bend, a, b] = linear.coefficients as unknown as [
      number,
      number,
      number,
      number,
      number,
    ];
    const background = new Float64Array(n);
    const fringes = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      background[i] = level + slope * ramp[1]![i]! + bend * ramp[2]![i]!;
      fringes[i] = y[i]! - background[i]!;
    }
    shape = {
      fringes,
      cosine: (i) => a * (1 + growth * power[i]!),
      sine: (i) => b * (1 + growth * power[i]!),
    };
    const jumps = jumpRows(
      course.jumps,
      offset,
      phase,
      c,
      jumpOffset,
      order,
    );
    const cost = huberSum(linear.residuals, weight, 3 * noise) / noise ** 2 +
      jumps.chiSquare + 2 * n * Math.log(noise);
    const derivatives = nonlinearColumns(
      power,
      polynomials,
      course,
      growth,
      a,
      b,
      c,
      order,
    );
    // All as changes: what a signal far above its noise explains would drown what
    // a step may gain.
    const system = assemble(
      columns,
      derivatives,
      linear.residuals,
      robust,
      noise,
      jumps,
    );
    const normal = normalSystem(system.columns, system.y, system.weights);
    // The prior holds the bend of the power, not its change.
    prior.weighted.forEach((precision, j) =>
      normal.right[j]! -= precision * linear!.coefficients[j]!
    );
    const full = solveNormal(normal, 1e-10, 0, prior.weighted);
    if (full === null) return best;
    // What the step to the bottom of the parabola would gain.
    let hoped = 0;
    full.coefficients.forEach((value, j) => hoped += value * normal.right[j]!);
    const settled = best !== null && Math.abs(bestCost - cost) < 1e-3;
    if (cost < bestCost) {
      const rate = columns.length + 1;
      const last = columns.length + order + 1;
      const fitted = new Float64Array(n);
      for (let i = 0; i < n; i++) fitted[i] = y[i]! - linear.residuals[i]!;
      bestCost = cost;
      stale = 0;
      damping = Math.max(1e-7, damping / 5);
      kept = { c, offset, phase: [...phase], jumpOffset };
      best = {
        steps: phase[0]! / Math.PI,
        standardUncertainty: Math.sqrt(full.variance(rate)) / Math.PI,
        feedbackParameter: c,
        feedbackUncertainty: Math.sqrt(full.variance(last)),
        angle: Math.atan2(b, a),
        offset,
        phase: [...phase],
        amplitude: Math.hypot(a, b),
        growth,
        fitted,
        background,
        noise,
        cost,
        converged: false,
      };
      if (settled || hoped < 3e-4) return { ...best, converged: true };
    } else {
      if (settled || hoped < 3e-4) return { ...best!, converged: true };
      stale++;
      damping = Math.min(100, damping * 8);
      if (stale > 8) return { ...best!, converged: true };
      ({ c, offset, jumpOffset } = kept);
      phase = [...kept.phase];
    }
    if (round >= 4 && bestCost - 3 * hoped > toBeat) return best;
    const damped = solveNormal(
      normal,
      damping,
      columns.length,
      prior.weighted,
    );
    if (damped === null) return best;
    const step = Array.from(damped.coefficients.slice(columns.length));
    const size = Math.max(...step.slice(0, order + 2).map(Math.abs));
    const short = Math.min(1, 0.5 / size);
    offset += short * step[0]!;
    phase = phase.map((value, k) => value + short * step[k + 1]!);
    c = Math.max(0, c + short * step[order + 1]!);
    jumpOffset += short * (step[order + 2] ?? 0);
    if (!(phase[0]! > 0.1)) return best;
  }
  return best;
}

/**
 * Searches C, the offset and (below 6 steps) the steps on a thinned stroke.
 *
 * @returns The best few starts, best first.
 */
export function searchFeedback(
  signal: StrokeSignal,
  fit: FringeFit,
  feedback: readonly number[] = [
    0.1,
    0.4,
    0.8,
    1.2,
    1.6,
    2.1,
    2.7,
    3.5,
    4.5,
  ],
): FeedbackStart[] {
  const most = Math.max(160, Math.min(1000, Math.ceil(16 * fit.steps)));
  const every = Math.max(1, Math.floor(signal.x.length / most));
  const chosen = selectSamples(signal, (i) => i % every === 0);
  const { x, y } = chosen;
  const ramp = legendreColumns(powerOf(chosen), 2);
  const thinned: StrokeSignal = signal.seam === undefined
    ? chosen
    : { ...chosen, seam: Math.ceil(signal.seam / every) };
  const polynomials = legendreColumns(x, Math.max(2, fit.phase.length));
  const growths = envelopeGrowths(signal, fit);
  const prior = straightPower(chosen).samples;
  const factors = fit.steps < 2.8
    ? [0.6, 0.75, 0.9, 1.05, 1.2, 1.4, 1.6, 1.85, 2.1, 2.4, 2.7, 3.1]
      .map((steps) => steps / fit.steps)
    : fit.steps < 6
    ? [0.93, 1, 1.07]
    : [1];
  const found: (FeedbackStart & { cost: number })[] = [];
  for (const c of feedback) {
    for (const factor of factors) {
      const phase = fit.phase.map((value) => value * factor);
      const best: ((FeedbackStart & { cost: number }) | null)[] = growths.map(
        () => null,
      );
      for (let k = 0; k < 12; k++) {
        const offset = 2 * Math.PI * k / 12;
        const course = followCourse(
          thinned,
          polynomials,
          offset,
          phase,
          c,
        );
        growths.forEach((growth, g) => {
          const linear = solveColumns(
            linearColumns(powerOf(chosen), ramp, course, growth),
            y,
            course.weight,
            prior,
          );
          if (linear === null) return;
          if (!plausible(linear.coefficients, fit.steps)) return;
          const cost = linear.residuals.reduce((s, r) => s + Math.abs(r), 0);
          if (cost < (best[g]?.cost ?? Infinity)) {
            best[g] = { feedbackParameter: c, offset, phase, growth, cost };
          }
        });
      }
      found.push(...best.filter((start) => start !== null));
    }
  }
  return found.sort((a, b) => a.cost - b.cost);
}

/**
 * Relative growth of the fringes over half the ramp: that of the power, which
 * they share, unless the fringes themselves show another (the level of an AC
 * coupled or offset signal says nothing). Then either may be: a free waveform may
 * fail on saw-teeth.
 */
function envelopeGrowths(signal: StrokeSignal, fit: FringeFit): number[] {
  const line = solveColumns(legendreColumns(powerOf(signal), 1), signal.y)!;
  const byPower = line.coefficients[1]! / line.coefficients[0]!;
  const possible = Math.abs(byPower) < 0.97;
  if (fit.steps < 4) return [possible ? byPower : 0];
  const byFringes = Math.max(-0.97, Math.min(0.97, fit.growth));
  if (!possible) return [byFringes];
  const amplitude = Math.hypot(...fit.harmonics[0]!);
  const deviation = fit.noise / amplitude * Math.sqrt(6 / signal.x.length);
  const near = Math.abs(byPower - byFringes) <
    Math.min(0.15, Math.max(0.03, 5 * deviation));
  return near ? [byPower] : [byFringes, byPower];
}

/**
 * What is known of the power ramp beforehand: above threshold power is straight
 * against current, to some 3 % of its change. Decides only where there are too
 * few fringes to tell a bend of the power from a fringe.
 */
function straightPower(signal: StrokeSignal) {
  const { y } = signal;
  const n = y.length;
  const slope = solveColumns(legendreColumns(powerOf(signal), 1), y)!
    .coefficients[1]!;
  let noise = 0;
  for (let i = 2; i < n; i++) {
    noise += (y[i]! - 2 * y[i - 1]! + y[i - 2]!) ** 2 / 6 / n;
  }
  const bend = 0.03 * Math.abs(slope);
  return {
    /** Against samples of weight 1. */
    samples: [0, 0, noise / (bend * bend || Infinity), 0, 0],
    /** Against samples weighted by their noise. */
    weighted: [0, 0, 1 / (bend * bend || Infinity), 0, 0],
  };
}

/**
 * Whether few fringes lean the way a diode's do: α between about 0 and tan of
 * nearly 90°, for a signal that grows or falls with the power.
 */
function plausible(coefficients: Float64Array, steps: number): boolean {
  if (steps > 3) return true;
  const sign = coefficients[1]! < 0 ? -1 : 1;
  const angle = Math.atan2(sign * coefficients[4]!, sign * coefficients[3]!);
  return angle > -0.4 && angle < Math.PI / 2 + 0.4;
}

/** Huber cost; samples left out count as the mean of the others. */
function huberSum(
  residuals: Float64Array,
  weight: Float64Array,
  limit: number,
): number {
  let total = 0;
  let count = 0;
  for (let i = 0; i < residuals.length; i++) {
    if (weight[i] === 0) continue;
    const r = Math.abs(residuals[i]!);
    total += r <= limit ? r * r : limit * (2 * r - limit);
    count++;
  }
  return total * residuals.length / Math.max(1, count);
}
