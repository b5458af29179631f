import { followFeedback, turningPhase } from "./feedback_course.ts";
import { legendreColumns } from "./normal_equations.ts";

/** What is fitted: nonlinear parameters of the stroke. */
export interface EdgeParameters {
  /** Phase at the middle of the ramp, in rad. */
  offset: number;
  /** Phase against current: coefficients of Legendre polynomials, in rad. */
  phase: number[];
  /** Feedback parameter C (1). */
  c: number;
  /** What a pole keeps of its state from sample to sample (1). */
  keep: number;
  /** Phase by a steady motion, from the middle to the end of the record, in rad. */
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
export interface EdgeModel {
  /** Filtered power ramp: 1, x and P₂(x), one value per sample. */
  readonly ramp: readonly Float64Array[];
  /** Filtered cos and sin columns, one value per sample. */
  readonly cosine: Float64Array;
  readonly sine: Float64Array;
  /**
   * Filtered derivatives by offset, phase coefficients, C and keep, and by motion
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
    const view = course.build(at.keep);
    const { parts } = stroke;
    stroke.ramp.forEach((column, k) =>
      ramp[k]!.set(filtered(column, at.keep, parts), from)
    );
    cosine.set(filtered(view.cosine, at.keep, parts), from);
    sine.set(filtered(view.sine, at.keep, parts), from);
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
      if (moving) put(order + 3, stroke.time, 1);
      if (lags) put(out.length - 1, stroke.lag, -at.phase[0]!);
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
  { parts, x, polynomials, envelope, time, lag, startShift }: ReturnType<
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
    const column = polynomials[k + 1]!;
    for (let i = 0; i < n; i++) t[i]! -= value * column[i]!;
  });
  const turn = turningPhase(
    offset + drift * time[0]!,
    phase,
    x[n - 1]! > x[0]!,
    startShift,
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
export function filtered(
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
      state = k * state + (1 - k) * values[i]!;
    }
    out[s] = state;
  }
  return out;
}
