import { type EdgeParameters, modelOf, refine } from "./edge_model.ts";
import { reachOf } from "./feedback_course.ts";
import type { FeedbackFit, FeedbackGuess } from "./feedback_fit.ts";
import {
  addTimes,
  difference,
  leadingSystem,
  type NormalSystem,
  normalSystem,
  solveColumns,
  solveNormal,
} from "./normal_equations.ts";
import { huberWeights, robustDeviation } from "./robust_weights.ts";
import { powerOf, type StrokeSignal } from "./stroke_signal.ts";

/** Samples of the signal per step of the ramp below which the model is finer. */
const enough = 24;
/** So near to C = 1 flanks are steep, and there about to become jumps (1). */
const steep = 0.3;
const steepest = 0.08;
/** Rounds after which a fit stops that has not settled. */
const allRounds = 30;
/** Places on a fringe at which a stroke is tried. */
const turnsTried = 12;
/** Rounds in which the phase alone is brought near. */
const mostAlignRounds = 3;
/** Time constants of a pole that are tried, in samples (1). */
const leastPole = 0.02;
const mostPole = 6;
/** What a pole that shows keeps from sample to sample, at least (1). */
const leastKeep = 0.03;
/** C up to which the flanks of the fringes are far from jumping (1). */
const smooth = 0.9;
/** Steps from which on one stroke tells phase, power ramp and pole apart (1). */
const many = 8;
/** Samples left out at the start of a stroke, until the pole has settled. */
const settle = 4;

/**
 * Refines a fit of the excess-phase equation by the amplifier's pole: the
 * fringes go through y' = (v - y)/τ before they are sampled, so that the samples
 * on the edge of a jump tell its place to a small part of a sample, and steep
 * flanks lean as they were recorded. Behind the pole the model is smooth in its
 * parameters; all samples count, and the uncertainty is that of a regular fit.
 *
 * Between the steps of the model the fringes are straight lines, the response of
 * the pole to which is exact, but on the step in which a branch ends: there they run
 * into its end like a root, jump, and go on straight. The bends of the tuning are
 * taken to be known beforehand to some 3 % of the tuning; that counts below some 4
 * steps only.
 *
 * @param signal The stroke, or two of them one after the other.
 * @param start The fit to refine.
 * @param moving Whether the target may move steadily while the two strokes last.
 * @param mostRounds Rounds after which it stops, settled or not.
 * @returns The refined fit; `null` where it does not describe the signal better
 * or the edges show no pole.
 */
export function fitEdges(
  signal: StrokeSignal,
  start: FeedbackGuess,
  moving = false,
  mostRounds = allRounds,
): FeedbackFit | null {
  const { x, y, seam } = signal;
  const n = x.length;
  const order = start.phase.length;
  const power = powerOf(signal);
  const { growth } = start;
  const strokes = seam === undefined ? [[0, n]] : [[0, seam], [seam, n]];
  // Steps of the model per sample of the signal.
  const near = Math.abs(start.feedbackParameter - 1);
  const few = n / strokes.length <= enough * start.steps;
  // What only chooses between starts need not be fine.
  const parts = near < steepest
    ? 7
    : near < steep || few && mostRounds >= allRounds
    ? 3
    : 1;
  const fine = strokes.map(([from, to], k) =>
    refine(
      parts,
      x.subarray(from!, to!),
      power.subarray(from!, to!),
      order,
      growth,
      Float64Array.from(
        { length: to! - from! },
        (_, i) => 2 * (from! + i) / (n - 1) - 1,
      ),
      signal.lag?.subarray(from!, to!) ?? null,
      signal.startShifts?.[k] ?? 0,
    )
  );
  const inside = new Float64Array(n).fill(1);
  for (const [from] of strokes) {
    inside.fill(0, from!, Math.min(n, from! + settle));
  }
  const count = inside.reduce((sum, value) => sum + value, 0);
  const evaluate = (at: EdgeParameters) => {
    const model = modelOf(fine, strokes, at, n, order);
    const columns = [...model.ramp, model.cosine, model.sine];
    let linear = solveColumns(columns, y, inside);
    if (linear === null) return null;
    const noise = robustDeviation(linear.residuals, inside) || 1e-300;
    const weights = huberWeights(linear.residuals, inside, 3 * noise);
    linear = solveColumns(columns, y, weights) ?? linear;
    let cost = 0;
    for (let i = 0; i < n; i++) {
      if (inside[i] === 0) continue;
      const r = Math.abs(linear.residuals[i]!);
      cost += r <= 3 * noise ? r * r : 3 * noise * (2 * r - 3 * noise);
    }
    let prior = 0;
    for (let k = 1; k < order; k++) {
      prior += (at.phase[k]! / (bendDeviation(k) * at.phase[0]!)) ** 2;
    }
    return { model, columns, linear, noise, weights, cost, prior };
  };

  let at: EdgeParameters = {
    offset: start.offset,
    phase: [...start.phase],
    c: start.feedbackParameter,
    pole: poleOf(start.keep ?? 0.25),
    drift: moving ? start.drift ?? 0 : 0,
    lag: 0,
  };
  const lags = seam !== undefined && signal.lag !== undefined;
  let here = evaluate(at);
  if (here === null) return null;
  // A stroke may lie elsewhere on its fringe than the one that it starts from.
  if (start.keep !== undefined && here.noise > 1.5 * start.noise) {
    for (let k = 1; k < turnsTried; k++) {
      const next = {
        ...at,
        offset: start.offset + 2 * Math.PI * k / turnsTried,
      };
      const there = evaluate(next);
      if (there !== null && there.cost < here.cost) [at, here] = [next, there];
    }
  }
  // The start has the delay of the pole in its offset, but for two strokes in
  // opposite directions, where it cancels.
  const perSample = seam === undefined ? start.phase[0]! * (x[1]! - x[0]!) : 0;
  // Fringes that jump tell C and the phase apart poorly on strokes of one
  // direction: along the line on which the jumps stay.
  const rising = x[1]! > x[0]!;
  const others = start.feedbackParameter < smooth || seam !== undefined
    ? []
    : [1.1, 1.4, 1.8, 2.3, 2.9, 3.6, 4.5];
  const tryOut = (c: number, pole: number) => {
    const shift = reachOf(start.feedbackParameter) - reachOf(c);
    const next: EdgeParameters = {
      ...at,
      c,
      pole,
      offset: start.offset - pole * perSample +
        (rising ? shift : -shift),
    };
    const there = evaluate(next);
    if (there !== null && there.cost < here!.cost) [at, here] = [next, there];
  };
  if (start.keep === undefined) {
    for (const c of [start.feedbackParameter, ...others]) {
      tryOut(c, poleOf(0.1));
    }
    for (const keep of [0.05, 0.25, 0.45]) tryOut(at.c, poleOf(keep));
  }
  /** Normal equations of a step from here, as the change of the parameters. */
  const systemHere = () => {
    const { model, columns, linear, noise, weights } = here!;
    const derivatives = model.derivatives(linear.coefficients, moving, lags);
    const scaled = weights.map((weight) => weight / noise ** 2);
    const all = [...columns, ...derivatives];
    // All as changes: what a signal far above its noise explains would drown what
    // a step may gain.
    const normal = normalSystem(all, linear.residuals, scaled);
    // The priors hold the phase coefficients, not their change.
    const precision = all.map(() => 0);
    for (let k = 1; k < order; k++) {
      const j = columns.length + 1 + k;
      precision[j] = (bendDeviation(k) * at.phase[0]!) ** -2;
      normal.right[j]! -= precision[j]! * at.phase[k]!;
    }
    return { normal, precision };
  };
  const fixed = here.columns.length;
  let system = systemHere();
  let damping = 1e-3;
  let converged = false;
  // C and pole would first follow a phase that is off: they wait for it, but
  // where few steps do not tell one from the other.
  let aligned = start.steps < 4;
  for (let round = 0; round < mostRounds; round++) {
    const { normal, precision } = system;
    /** What the step to the bottom of the parabola would gain. */
    const hoped = (part: NormalSystem) => {
      const best = solveNormal(part, 1e-10, 0, precision);
      if (best === null) return NaN;
      let gain = 0;
      best.coefficients.forEach((value, j) => gain += value * part.right[j]!);
      return gain;
    };
    const phaseAlone = leadingSystem(normal, fixed + 1 + order);
    aligned ||= round === mostAlignRounds || hoped(phaseAlone) < 10;
    const part = aligned ? normal : phaseAlone;
    const most = hoped(part);
    if (Number.isNaN(most)) return null;
    if (aligned && most < 1e-3) {
      converged = true;
      break;
    }
    const damped = solveNormal(part, damping, fixed, precision);
    if (damped === null) return null;
    const change = normal.right.map((_, j) => damped.coefficients[j] ?? 0)
      .subarray(fixed);
    const largest = Math.max(...change.subarray(0, order + 2).map(Math.abs));
    const short = Math.min(1, 0.3 / largest);
    const next: EdgeParameters = {
      offset: at.offset + short * change[0]!,
      phase: at.phase.map((value, k) => value + short * change[1 + k]!),
      c: Math.max(0, at.c + short * change[1 + order]!),
      pole: Math.max(
        leastPole,
        Math.min(mostPole, at.pole + short * change[2 + order]!),
      ),
      drift: moving ? at.drift + short * change[3 + order]! : 0,
      lag: lags ? at.lag + short * change.at(-1)! : 0,
    };
    const there = next.phase[0]! > 0.1 ? evaluate(next) : null;
    const gain = there === null
      ? -Infinity
      : (here.cost - there.cost) / here.noise ** 2 + here.prior - there.prior;
    if (gain > 0) {
      [at, here] = [next, there!];
      damping = Math.max(1e-8, damping / 5);
    } else damping *= 10;
    if (Math.abs(gain) < 0.02 && (gain >= 0 || damping > 1)) {
      converged = aligned;
      aligned = true;
    }
    if (converged || damping > 1e6) break;
    // One stroke of many fringes that do not jump shows the pole by the square of
    // its time constant: Newton's steps come from above, and no longer one is ahead.
    if (
      at.c < smooth && start.steps > many && seam === undefined &&
      keepOf(at.pole) < leastKeep / 3
    ) return null;
    if (gain > 0) system = systemHere();
  }
  const { linear, noise } = here;
  const solution = solveNormal(system.normal, 1e-10, 0, system.precision);
  const keep = keepOf(at.pole);
  if (solution === null || (keep < leastKeep && !lags)) return null;
  const [a, b] = [linear.coefficients[3]!, linear.coefficients[4]!];
  const spread = Math.sqrt(here.cost / Math.max(1, count - 7 - order));
  // Weights are in the solution; what the robust noise missed is not.
  const widen = Math.max(1, spread / noise);
  const first = 6;
  const background = new Float64Array(n);
  here.model.ramp.forEach((column, k) => {
    addTimes(background, linear.coefficients[k]!, column);
  });
  return {
    steps: at.phase[0]! / Math.PI,
    standardUncertainty: widen *
      Math.sqrt(solution.variance(first)) / Math.PI,
    feedbackParameter: at.c,
    feedbackUncertainty: widen *
      Math.sqrt(solution.variance(first + order)),
    angle: Math.atan2(b, a),
    offset: at.offset,
    phase: at.phase,
    amplitude: Math.hypot(a, b),
    growth,
    fitted: difference(y, linear.residuals),
    background,
    noise,
    cost: here.cost / noise ** 2 + 2 * n * Math.log(noise),
    keep,
    ...(moving ? { drift: at.drift } : {}),
    ...(lags
      ? {
        lagChange: at.lag,
        lagUncertainty: widen * Math.sqrt(
          solution.variance(first + order + (moving ? 3 : 2)),
        ),
      }
      : {}),
    converged,
  };
}

/** Time constant of a pole that keeps so much from sample to sample, in samples. */
function poleOf(keep: number): number {
  return Math.max(leastPole, Math.min(mostPole, -1 / Math.log(keep)));
}

/** What a pole keeps from sample to sample (1). */
function keepOf(pole: number): number {
  return Math.exp(-1 / pole);
}

/** What is known beforehand of a bend of the tuning, over the tuning (1). */
function bendDeviation(k: number): number {
  return k === 1 ? 0.03 : 0.01;
}
