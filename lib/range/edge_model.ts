import { solveOnBranch } from "./branch_table.ts";
import {
  behindPole,
  type JumpWeights,
  jumpWeights,
  type StepJump,
} from "./edge_pole.ts";
import { followFeedback, reachOf, turningPhase } from "./feedback_course.ts";
import { addTimes, legendreColumns } from "./normal_equations.ts";

/** What is fitted: nonlinear parameters of the stroke. */
export interface EdgeParameters {
  /** Phase at the middle of the ramp, in rad. */
  offset: number;
  /** Phase against current: coefficients of Legendre polynomials, in rad. */
  phase: number[];
  /** Feedback parameter C (1). */
  c: number;
  /** Time constant of a pole, in samples (1). */
  pole: number;
  /** Phase by a steady motion, from the middle to the end of the record, in rad. */
  drift: number;
  /** Change of the time constant of the lag, in s. */
  lag: number;
}

/** A quantity along a stroke, several steps of the model to a sample. */
interface Course {
  readonly values: Float64Array;
  readonly jumps: readonly StepJump[];
}

/** Model values and derivatives at one set of parameters. */
export interface EdgeModel {
  /** Filtered power ramp: 1, x and P₂(x), one value per sample. */
  readonly ramp: readonly Float64Array[];
  /** Filtered cos and sin columns, one value per sample. */
  readonly cosine: Float64Array;
  readonly sine: Float64Array;
  /**
   * Filtered derivatives by offset, phase coefficients, C and pole, and by motion
   * and lag where these are free.
   */
  readonly derivatives: (
    coefficients: Float64Array,
    moving: boolean,
    lags: boolean,
  ) => Float64Array[];
}

/** A stroke at several steps to a sample. */
export function refine(
  parts: number,
  x: Float64Array,
  power: Float64Array,
  order: number,
  growth: number,
  time: Float64Array,
  lag: Float64Array | null,
  startShift: number,
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
    startShift,
  };
}

/**
 * The fringes as the amplifier shows them.
 *
 * @param fine The strokes, each from {@linkcode refine}.
 * @param strokes First sample of each and sample after its last.
 * @param at The parameters.
 * @param n Samples of the signal.
 * @param order Order of the polynomial of the phase.
 */
export function modelOf(
  fine: readonly ReturnType<typeof refine>[],
  strokes: readonly (readonly number[])[],
  at: EdgeParameters,
  n: number,
  order: number,
): EdgeModel {
  const cosine = new Float64Array(n);
  const sine = new Float64Array(n);
  const ramp = [0, 1, 2].map(() => new Float64Array(n));
  const courses = fine.map((stroke, s) => {
    const course = courseOf(stroke, at);
    const from = strokes[s]![0]!;
    const { parts } = stroke;
    const rate = 1 / (parts * at.pole);
    stroke.ramp.forEach((column, k) =>
      ramp[k]!.set(behindPole(column, rate, parts), from)
    );
    const shown = ({ values, jumps }: Course) =>
      behindPole(values, rate, parts, jumps);
    cosine.set(shown(course.fringes(1, 0, rate)), from);
    sine.set(shown(course.fringes(0, 1, rate)), from);
    return { stroke, course, from };
  });
  const derivatives = (
    coefficients: Float64Array,
    moving: boolean,
    lags: boolean,
  ) => {
    const [level, slope, bend, a, b] = coefficients as unknown as [
      number,
      number,
      number,
      number,
      number,
    ];
    const out = Array.from(
      { length: order + 3 + (moving ? 1 : 0) + (lags ? 1 : 0) },
      () => new Float64Array(n),
    );
    const delta = 1e-4;
    for (const { stroke, course, from } of courses) {
      const { parts } = stroke;
      const rate = 1 / (parts * at.pole);
      const { byPhase, byFeedback } = course.derivatives(a, b, rate);
      const put = (
        k: number,
        { values, jumps }: Course,
        column: Float64Array | null = null,
        factor = 1,
      ) =>
        out[k]!.set(
          column === null ? behindPole(values, rate, parts, jumps) : behindPole(
            times(values, column, factor),
            rate,
            parts,
            jumps.map(({ index, u, change }) => ({
              index,
              u,
              change: factor * change *
                ((1 - u) * column[index]! + u * column[index - 1]!),
            })),
          ),
          from,
        );
      put(0, byPhase);
      for (let k = 1; k <= order; k++) {
        put(k, byPhase, stroke.polynomials[k]!, -1);
      }
      if (moving) put(order + 3, byPhase, stroke.time);
      if (lags) put(out.length - 1, byPhase, stroke.lag, -at.phase[0]!);
      put(order + 1, byFeedback);
      const mixed = (pole: number) => {
        const rate = 1 / (parts * pole);
        const { values, jumps } = course.fringes(a, b, rate);
        const [one, line, parabola] = stroke.ramp as [
          Float64Array,
          Float64Array,
          Float64Array,
        ];
        for (let i = 0; i < values.length; i++) {
          values[i]! += level * one[i]! + slope * line[i]! +
            bend * parabola[i]!;
        }
        return behindPole(values, rate, parts, jumps);
      };
      const [p, q] = [mixed(at.pole + delta), mixed(at.pole)];
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
  { x, polynomials, envelope, time, lag, startShift }: ReturnType<
    typeof refine
  >,
  { offset, phase, c, drift, lag: lagChange }: EdgeParameters,
) {
  const n = x.length;
  const byLag = lagChange * phase[0]!;
  const t = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    t[i] = offset + drift * time[i]! - byLag * lag[i]!;
  }
  phase.forEach((value, k) => {
    addTimes(t, -value, polynomials[k + 1]!);
  });
  const turn = turningPhase(
    offset + drift * time[0]!,
    phase,
    x[n - 1]! > x[0]!,
    startShift,
  );
  const { cosine, sine, jumps } = followFeedback(x, t, turn, c, null);
  const c1 = Math.max(1, c);
  const fold = Math.acos(-1 / c1);
  const landing = jumps.length === 0
    ? 0
    : solveOnBranch(Float64Array.of(reachOf(c) - 2 * Math.PI), c)[0]!;
  const places = jumps.map(({ index, crossing, sign }) => ({
    index,
    sign,
    u: Math.max(0, Math.min(1, index - crossing)),
    before: sign * fold,
    after: sign * landing,
    speed: t[index]! - t[index - 1]!,
  }));
  const changeOf = (
    weights: JumpWeights,
    values: Float64Array,
    index: number,
    before: number,
    after: number,
  ) =>
    weights.start * values[index - 1]! + weights.end * values[index]! +
    weights.before * before + weights.after * after;
  /** a cos z + b sin z, times the envelope. */
  const fringes = (a: number, b: number, rate: number): Course => {
    const values = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      values[i] = envelope[i]! * (a * cosine[i]! + b * sine[i]!);
    }
    const level = (i: number, z: number) =>
      envelope[i]! * (a * Math.cos(z) + b * Math.sin(z));
    return {
      values,
      jumps: places.map(({ index, u, before, after }) => ({
        index,
        u,
        change: changeOf(
          jumpWeights(rate, u),
          values,
          index,
          level(index, before),
          level(index, after),
        ),
      })),
    };
  };
  const derivatives = (a: number, b: number, rate: number) => {
    const { values } = fringes(a, b, rate);
    const byPhase = new Float64Array(n);
    const byFeedback = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      const cos = cosine[i]!;
      const sin = sine[i]!;
      const slope = envelope[i]! * (b * cos - a * sin) /
        Math.max(0.05, 1 + c * cos);
      byPhase[i] = slope;
      byFeedback[i] = -sin * slope;
    }
    const root = Math.sqrt(c1 * c1 - 1);
    const [phaseJumps, feedbackJumps]: [StepJump[], StepJump[]] = [[], []];
    for (const { index, u, before, after, speed, sign } of places) {
      const e = envelope[index]!;
      const level = (z: number) => e * (a * Math.cos(z) + b * Math.sin(z));
      const slope = (z: number) => e * (b * Math.cos(z) - a * Math.sin(z));
      const weights = jumpWeights(rate, u);
      const at = (values: Float64Array, w = weights, p = 0, q = 0) =>
        changeOf(w, values, index, p, q);
      const delta = u < 0.5 ? 1e-4 : -1e-4;
      const [p, q] = [level(before), level(after)];
      const byPlace = (at(values, jumpWeights(rate, u + delta), p, q) -
        at(values, weights, p, q)) / delta / speed;
      phaseJumps.push({ index, u, change: at(byPhase) + byPlace });
      // d/dC of the ends of the jump, at most what a step takes in.
      const foldMoves = -sign / (c1 * Math.max(0.1, root));
      const landingMoves = sign * (root / c1 - Math.sin(landing)) /
        (1 + c1 * Math.cos(landing));
      feedbackJumps.push({
        index,
        u,
        change: at(
          byFeedback,
          weights,
          slope(before) * foldMoves,
          slope(after) * landingMoves,
        ) - sign * root / c1 * byPlace,
      });
    }
    return {
      byPhase: { values: byPhase, jumps: phaseJumps },
      byFeedback: { values: byFeedback, jumps: feedbackJumps },
    };
  };
  return { fringes, derivatives };
}
