import {
  type FeedbackCourse,
  followFeedback,
  type FringeSignal,
  turningPhase,
} from "./feedback_course.ts";
import { joinValues } from "../memory/mod.ts";
import { addTimes } from "./normal_equations.ts";
import type { StrokeSignal } from "./stroke_signal.ts";

/** Phase with feedback along the stroke or strokes, in order of time. */
export function followCourse(
  { x, seam, startShifts }: StrokeSignal,
  polynomials: readonly Float64Array[],
  offset: number,
  phase: readonly number[],
  c: number,
  signal: FringeSignal | null = null,
): FeedbackCourse {
  const n = x.length;
  const t = new Float64Array(n).fill(offset);
  phase.forEach((value, k) => {
    addTimes(t, -value, polynomials[k + 1]!);
  });
  const follow = (from: number, to: number, shift = 0) =>
    followFeedback(
      x.subarray(from, to),
      t.subarray(from, to),
      turningPhase(offset, phase, x[to - 1]! > x[from]!, shift),
      c,
      signal === null ? null : {
        fringes: signal.fringes.subarray(from, to),
        cosine: (i) => signal.cosine(i + from),
        sine: (i) => signal.sine(i + from),
      },
    );
  if (seam === undefined) return follow(0, n, startShifts?.[0]);
  const [a, b] = [
    follow(0, seam, startShifts?.[0]),
    follow(seam, n, startShifts?.[1]),
  ];
  return {
    angle: joinValues([a.angle, b.angle]),
    cosine: joinValues([a.cosine, b.cosine]),
    sine: joinValues([a.sine, b.sine]),
    weight: joinValues([a.weight, b.weight]),
    jumps: [...a.jumps, ...b.jumps],
  };
}

/** The power ramp, and the even and odd part of the fringes. */
export function linearColumns(
  x: Float64Array,
  polynomials: readonly Float64Array[],
  { cosine, sine }: Pick<FeedbackCourse, "cosine" | "sine">,
  growth: number,
): Float64Array[] {
  const n = x.length;
  const [even, odd] = [new Float64Array(n), new Float64Array(n)];
  for (let i = 0; i < n; i++) {
    const envelope = 1 + growth * x[i]!;
    even[i] = envelope * cosine[i]!;
    odd[i] = envelope * sine[i]!;
  }
  return [polynomials[0]!, polynomials[1]!, polynomials[2]!, even, odd];
}

/** Derivatives by offset, phase coefficients and C. */
export function nonlinearColumns(
  x: Float64Array,
  polynomials: readonly Float64Array[],
  { cosine, sine }: Pick<FeedbackCourse, "cosine" | "sine">,
  growth: number,
  a: number,
  b: number,
  c: number,
  order: number,
): Float64Array[] {
  const n = x.length;
  const byPhase = new Float64Array(n);
  const byFeedback = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    const cos = cosine[i]!;
    const sin = sine[i]!;
    const slope = Math.max(0.02, 1 + c * cos);
    byPhase[i] = (1 + growth * x[i]!) * (b * cos - a * sin) / slope;
    byFeedback[i] = -sin * byPhase[i]!;
  }
  const columns = [byPhase];
  for (let k = 1; k <= order; k++) {
    const column = polynomials[k]!;
    const out = new Float64Array(n);
    for (let i = 0; i < n; i++) out[i] = -byPhase[i]! * column[i]!;
    columns.push(out);
  }
  columns.push(byFeedback);
  return columns;
}
