import { followFeedback, reachOf } from "./feedback_course.ts";
import type { FeedbackFit } from "./feedback_fit.ts";
import {
  legendreColumns,
  type NormalCoefficients,
  normalSystem,
  solveColumns,
  solveNormal,
} from "./normal_equations.ts";
import { huberWeights, robustDeviation } from "./robust_weights.ts";
import { powerOf, type StrokeSignal } from "./stroke_signal.ts";

/** Samples of the signal per step of the ramp below which the model is finer. */
const enough = 24;
/** Samples left out at the start of a stroke, until the pole has settled. */
const settle = 4;

/** What is fitted: nonlinear parameters of the stroke. */
interface Parameters {
  offset: number;
  phase: number[];
  c: number;
  /** What a pole keeps of its state from sample to sample (1). */
  keep: number;
  /** Phase by a steady motion, from the middle to the end of the record. */
  drift: number;
  /** Change of the time constant of the lag, in s. */
  lag: number;
}

/** The fringes along a stroke, several steps of the model to a sample. */
interface Course {
  /** cos z and sin z, over a jump as the amplifier sees them. */
  cosine: Float64Array;
  sine: Float64Array;
}

/** Model values and derivatives at one set of parameters. */
interface Model {
  /** Filtered power ramp: 1, x and P₂(x), one value per sample. */
  readonly ramp: readonly Float64Array[];
  /** Filtered cos and sin columns, one value per sample. */
  readonly cosine: Float64Array;
  readonly sine: Float64Array;
  /** Filtered derivatives by offset, phase coefficients, C and keep. */
  readonly derivatives: (coefficients: Float64Array) => Float64Array[];
}

/**
 * Refines a fit of the excess-phase equation by the amplifier's pole: the
 * fringes go through y' = (v - y)/τ before they are sampled, so that the samples
 * on the edge of a jump tell its place to a small part of a sample, and steep
 * flanks lean as they were recorded. Behind the pole the model is smooth in its
 * parameters; all samples count, and the uncertainty is that of a regular fit.
 *
 * A jump that comes u of a step before the end of that step leaves
 * v = v₁ + w (v₂ - v₁), w = (1 - κ^u)/(1 - κ), which has the response of the pole
 * to an edge at that place. The bends of the tuning are taken to be known
 * beforehand to some 3 % of the tuning; that counts below some 4 steps only.
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
  start: FeedbackFit,
  moving = false,
  mostRounds = 30,
): FeedbackFit | null {
  const { x, y, seam } = signal;
  const n = x.length;
  const order = start.phase.length;
  const power = powerOf(signal);
  const { growth } = start;
  const strokes = seam === undefined ? [[0, n]] : [[0, seam], [seam, n]];
  // Steps of the model per sample of the signal.
  const parts = n / strokes.length > enough * start.steps ? 1 : 3;
  const fine = strokes.map(([from, to]) =>
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
    )
  );
  const inside = new Float64Array(n).fill(1);
  for (const [from] of strokes) {
    inside.fill(0, from!, Math.min(n, from! + settle));
  }
  const count = inside.reduce((sum, value) => sum + value, 0);
  const bendDeviation = [0.03, 0.01, 0.01];

  const evaluate = (at: Parameters) => {
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
      prior += (at.phase[k]! / (bendDeviation[k - 1]! * at.phase[0]!)) ** 2;
    }
    return { model, columns, linear, noise, weights, cost, prior };
  };

  let at: Parameters = {
    offset: start.offset,
    phase: [...start.phase],
    c: start.feedbackParameter,
    keep: start.keep ?? 0.25,
    drift: moving ? start.drift ?? 0 : 0,
    lag: 0,
  };
  const lags = seam !== undefined && signal.lag !== undefined;
  let here = evaluate(at);
  if (here === null) return null;
  // The start has the delay of the pole in its offset, but for two strokes in
  // opposite directions, where it cancels.
  const perSample = seam === undefined ? start.phase[0]! * (x[1]! - x[0]!) : 0;
  // Fringes that jump tell C and the phase apart poorly on strokes of one
  // direction: along the line on which the jumps stay.
  const rising = x[1]! > x[0]!;
  const others = start.feedbackParameter < 0.9 || seam !== undefined
    ? []
    : [1.1, 1.4, 1.8, 2.3, 2.9, 3.6, 4.5];
  for (const c of start.keep === undefined ? [at.c, ...others] : []) {
    const shift = reachOf(start.feedbackParameter) - reachOf(c);
    for (const keep of [0.05, 0.1, 0.25, 0.45]) {
      const k = keep ** (1 / parts);
      const next: Parameters = {
        ...at,
        c,
        keep,
        offset: start.offset - k / (1 - k) / parts * perSample +
          (rising ? shift : -shift),
      };
      const there = evaluate(next);
      if (there !== null && there.cost < here.cost) [at, here] = [next, there];
    }
  }
  let damping = 1e-3;
  let converged = false;
  let undamped = (): NormalCoefficients | null => null;
  for (let round = 0; round < mostRounds; round++) {
    const { model, columns, linear, noise, weights } = here;
    const derivatives = model.derivatives(linear.coefficients)
      .filter((_, k) => k < order + 3 || (k === order + 3 ? moving : lags));
    const scaled = weights.map((weight) => weight / noise ** 2);
    const precision = [...columns, ...derivatives].map((_, j) => {
      const k = j - columns.length - 2;
      return k >= 0 && k < order - 1
        ? (bendDeviation[k]! * at.phase[0]!) ** -2
        : 0;
    });
    // The priors hold the phase coefficients, not their change.
    const target = y.slice();
    for (let k = 1; k < order; k++) {
      const column = derivatives[1 + k]!;
      for (let i = 0; i < n; i++) target[i]! += at.phase[k]! * column[i]!;
    }
    const all = [...columns, ...derivatives];
    const normal = normalSystem(all, target, scaled);
    undamped = () => solveNormal(normal, 1e-10, 0, precision);
    const best = undamped();
    if (best === null) return null;
    // What the step to the bottom of the parabola would gain.
    let hoped = -scaled.reduce(
      (sum, w, i) => sum + w * (target[i]! ** 2 - linear.residuals[i]! ** 2),
      0,
    );
    best.coefficients.forEach((value, j) => hoped += value * normal.right[j]!);
    if (hoped + here.prior < 1e-3) converged = true;
    if (converged) break;
    const damped = solveNormal(normal, damping, columns.length, precision);
    if (damped === null) return null;
    const change = Array.from(damped.coefficients.slice(columns.length));
    for (let k = 1; k < order; k++) change[1 + k]! -= at.phase[k]!;
    const largest = Math.max(...change.slice(0, order + 2).map(Math.abs));
    const short = Math.min(1, 0.3 / largest);
    const next: Parameters = {
      offset: at.offset + short * change[0]!,
      phase: at.phase.map((value, k) => value + short * change[1 + k]!),
      c: Math.max(0, at.c + short * change[1 + order]!),
      keep: Math.max(
        0.01,
        Math.min(0.85, at.keep + short * change[2 + order]!),
      ),
      drift: moving ? at.drift + short * change[3 + order]! : 0,
      lag: lags ? at.lag + short * change.at(-1)! : 0,
    };
    const there = next.phase[0]! > 0.1 ? evaluate(next) : null;
    const gain = there === null
      ? -Infinity
      : (here.cost - there.cost) / noise ** 2 + here.prior - there.prior;
    if (gain > 0) {
      [at, here] = [next, there!];
      damping = Math.max(1e-8, damping / 5);
    } else damping *= 10;
    if (gain >= 0 && gain < 0.02) converged = true;
    if (converged || damping > 1e6) break;
  }
  const { linear, noise } = here;
  const solution = undamped();
  if (solution === null || (at.keep < 0.03 && !lags)) return null;
  const [a, b] = [linear.coefficients[3]!, linear.coefficients[4]!];
  const spread = Math.sqrt(here.cost / Math.max(1, count - 7 - order));
  // Weights are in the solution; what the robust noise missed is not.
  const widen = Math.max(1, spread / noise);
  const first = 6;
  const background = here.model.ramp.reduce(
    (sum, column, k) =>
      sum.map((value, i) => value + linear.coefficients[k]! * column[i]!),
    new Float64Array(n),
  );
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
    fitted: y.map((value, i) => value - linear.residuals[i]!),
    background,
    noise,
    cost: here.cost / noise ** 2 + 2 * n * Math.log(noise),
    keep: at.keep,
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

/** A stroke at several steps to a sample. */
function refine(
  parts: number,
  x: Float64Array,
  power: Float64Array,
  order: number,
  growth: number,
  time: Float64Array,
  lag: Float64Array | null,
) {
  const n = x.length;
  const between = (values: Float64Array) => {
    const out = new Float64Array(n * parts);
    for (let i = 0; i < n; i++) {
      const step = i === 0 ? values[1]! - values[0]! : values[i]! -
        values[i - 1]!;
      for (let m = 0; m < parts; m++) {
        out[i * parts + m] = values[i]! - step * (parts - 1 - m) / parts;
      }
    }
    return out;
  };
  const places = between(x);
  return {
    parts,
    x: places,
    polynomials: legendreColumns(places, Math.max(2, order)),
    ramp: legendreColumns(between(power), 2),
    envelope: between(power).map((value) => 1 + growth * value),
    time: between(time),
    lag: lag === null ? new Float64Array(n * parts) : between(lag),
  };
}

function modelOf(
  fine: readonly ReturnType<typeof refine>[],
  strokes: readonly (readonly number[])[],
  at: Parameters,
  n: number,
  order: number,
): Model {
  const cosine = new Float64Array(n);
  const sine = new Float64Array(n);
  const ramp = [0, 1, 2].map(() => new Float64Array(n));
  const courses = fine.map((stroke, s) => {
    const course = courseOf(stroke, at);
    const from = strokes[s]![0]!;
    const view = course.build(at.keep);
    const { parts } = stroke;
    stroke.ramp.forEach((column, k) =>
      ramp[k]!.set(filtered(column, at.keep, parts), from)
    );
    cosine.set(filtered(view.cosine, at.keep, parts), from);
    sine.set(filtered(view.sine, at.keep, parts), from);
    return { stroke, course, from };
  });
  const derivatives = (coefficients: Float64Array) => {
    const [level, slope, bend, a, b] = coefficients as unknown as [
      number,
      number,
      number,
      number,
      number,
    ];
    const out = Array.from(
      { length: order + 5 },
      () => new Float64Array(n),
    );
    const delta = at.keep < 0.8 ? 1e-4 : -1e-4;
    for (const { stroke, course, from } of courses) {
      const { byPhase, byFeedback } = course.derivatives(a, b, at.keep);
      const { parts } = stroke;
      const put = (k: number, column: Float64Array, factor: number) =>
        out[k]!.set(
          filtered(times(byPhase, column, factor), at.keep, parts),
          from,
        );
      out[0]!.set(filtered(byPhase, at.keep, parts), from);
      for (let k = 1; k <= order; k++) put(k, stroke.polynomials[k]!, -1);
      put(order + 3, stroke.time, 1);
      put(order + 4, stroke.lag, -at.phase[0]!);
      out[order + 1]!.set(filtered(byFeedback, at.keep, parts), from);
      const mixed = (keep: number) => {
        const { cosine, sine } = course.build(keep);
        const [one, line, parabola] = stroke.ramp as [
          Float64Array,
          Float64Array,
          Float64Array,
        ];
        for (let i = 0; i < cosine.length; i++) {
          cosine[i] = a * cosine[i]! + b * sine[i]! + level * one[i]! +
            slope * line[i]! + bend * parabola[i]!;
        }
        return filtered(cosine, keep, parts);
      };
      const [p, q] = [mixed(at.keep + delta), mixed(at.keep)];
      for (let i = 0; i < p.length; i++) p[i] = (p[i]! - q[i]!) / delta;
      out[order + 2]!.set(p, from);
    }
    return out;
  };
  return { ramp, cosine, sine, derivatives };
}

function times(
  a: Float64Array,
  b: Float64Array,
  factor: number,
): Float64Array {
  const out = new Float64Array(a.length);
  for (let i = 0; i < out.length; i++) out[i] = factor * a[i]! * b[i]!;
  return out;
}

/** The fringes of one stroke before the pole, and their derivatives. */
function courseOf(
  { parts, x, polynomials, envelope, time, lag }: ReturnType<typeof refine>,
  { offset, phase, c, drift, lag: lagChange }: Parameters,
) {
  const n = x.length;
  const byLag = lagChange * phase[0]!;
  const t = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    t[i] = offset + drift * time[i]! - byLag * lag[i]!;
  }
  phase.forEach((value, k) => {
    const column = polynomials[k + 1]!;
    for (let i = 0; i < n; i++) t[i]! -= value * column[i]!;
  });
  const end = x[n - 1]! > x[0]! ? -1 : 1;
  const turn = offset + drift * time[0]! - phase.reduce(
    (total, value, k) => total + value * (k % 2 === 0 ? end : 1),
    0,
  );
  const { angle, cosine, sine, jumps } = followFeedback(x, t, turn, c, null);
  const last = Math.acos(-1 / Math.max(1, c));
  const places = jumps.map(({ index, crossing, sign }) => ({
    index,
    sign,
    u: Math.max(0, Math.min(1, index - crossing)),
    before: sign * last,
    after: angle[index]!,
    rate: t[index]! - t[Math.max(0, index - 1)]!,
  }));
  const share = (u: number, keep: number) => {
    const k = keep ** (1 / parts);
    return [
      (1 - k ** u) / (1 - k),
      -Math.log(k) * k ** u / (1 - k),
    ] as const;
  };
  const build = (keep: number): Course => {
    const even = times(envelope, cosine, 1);
    const odd = times(envelope, sine, 1);
    for (const { index, u, before } of places) {
      const [w] = share(u, keep);
      const e = envelope[index]!;
      const [cos, sin] = [e * Math.cos(before), e * Math.sin(before)];
      even[index] = cos + w * (even[index]! - cos);
      odd[index] = sin + w * (odd[index]! - sin);
    }
    return { cosine: even, sine: odd };
  };
  const level = (i: number, z: number, a: number, b: number) =>
    envelope[i]! * (a * Math.cos(z) + b * Math.sin(z));
  const derivatives = (a: number, b: number, keep: number) => {
    const byPhase = new Float64Array(n);
    const byFeedback = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      const [cos, sin] = [cosine[i]!, sine[i]!];
      const slope = envelope[i]! * (b * cos - a * sin) /
        Math.max(0.05, 1 + c * cos);
      byPhase[i] = slope;
      byFeedback[i] = -sin * slope;
    }
    const reach = c > 1 ? Math.sqrt(c * c - 1) / c : 0;
    for (const { index, u, before, after, rate, sign } of places) {
      const [w, dw] = share(u, keep);
      const height = level(index, after, a, b) - level(index, before, a, b);
      byPhase[index] = w * byPhase[index]! + height * dw / rate;
      byFeedback[index] = w * byFeedback[index]! -
        height * dw * sign * reach / rate;
    }
    return { byPhase, byFeedback };
  };
  return { build, derivatives };
}

/** One pole, at several steps to a sample; one value per sample comes out. */
function filtered(
  values: Float64Array,
  keep: number,
  parts: number,
): Float64Array {
  const k = keep ** (1 / parts);
  const out = new Float64Array(values.length / parts);
  // As if it had been running before.
  let state = values[0]! - (values[1]! - values[0]!) * k / (1 - k);
  let i = 0;
  for (let s = 0; s < out.length; s++) {
    for (let m = 0; m < parts; m++, i++) {
      const value = values[i]!;
      state = value + k * (state - value);
    }
    out[s] = state;
  }
  return out;
}
