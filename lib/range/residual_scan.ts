import type { RampCount } from "./count_ramp.ts";
import { difference, dot, join, legendreColumns } from "./normal_equations.ts";
import type { Stroke } from "./ramps.ts";
import { nthSmallest } from "./robust_weights.ts";
import { powerOf } from "./stroke_signal.ts";

/** One stroke as its fit left it. */
export interface FittedRun {
  /** Current that the fringes follow, from -1 to 1 on the ramp (1). */
  readonly x: Float64Array;
  /** Drive current, on the same scale. */
  readonly place: Float64Array;
  readonly y: Float64Array;
  readonly fitted: Float64Array;
  readonly background: Float64Array;
}

/** What a step of the phase from one place of a run on leaves. */
export interface StepPart {
  /** Its product with the reduced residuals (1). */
  readonly part: number;
  /** Square of its size before it is reduced (1). */
  readonly raw: number;
  /** Its parts along what the fit makes up for. */
  readonly along: Float64Array;
}

/** What steps of the phase, one on each run, leave together. */
export interface StepResponse {
  /** Its product with the reduced residuals (1). */
  readonly part: number;
  /** Square of its reduced size (1); 0 where the fit makes up for it. */
  readonly size: number;
  /** Part of it that a change of the steps would make up for (1). */
  readonly asSteps: number;
}

/**
 * What a fit leaves, in units of its noise and without all that a small change of
 * the fit could still make up for: level, slope and bend of the power, amplitude,
 * and the phase as a polynomial of current.
 */
export interface Residuals {
  /** dF/dx of the fringes over the noise, per sample (1). */
  readonly rate: Float64Array;
  /** A column without what the fit makes up for. */
  readonly reduce: (column: Float64Array) => Float64Array;
  /** What steps of the phase on a run leave, one at each of some places. */
  readonly stepsAt: (run: number, places: readonly number[]) => StepPart[];
  /** The same for steps on several runs. */
  readonly together: (parts: readonly StepPart[]) => StepResponse;
  /** The reduced residuals over their noise (1). */
  readonly left: Float64Array;
  /** Part of a column that a change of the steps would make up for (1). */
  readonly asSteps: (column: Float64Array) => number;
}

/**
 * Prepares the search for something small that was not in the fit.
 *
 * @param runs The parts of the record that share all parameters of the fit.
 * @param order Order of the polynomial of the phase.
 * @param more Further columns, times dF/dx, that are not looked for.
 */
export function residualsOf(
  runs: readonly FittedRun[],
  order: number,
  more: readonly Float64Array[] = [],
): Residuals | null {
  const x = join(runs.map((run) => run.x));
  const place = join(runs.map((run) => run.place));
  const n = x.length;
  const fringe = join(
    runs.map((run) => difference(run.fitted, run.background)),
  );
  const residual = join(
    runs.map((run) => difference(run.y, run.fitted)),
  );
  const slope = join(runs.map((run) => {
    const { fitted, background } = run;
    const last = fitted.length - 1;
    return fitted.map((_, i) => {
      const [a, b] = [Math.max(0, i - 1), Math.min(last, i + 1)];
      return (fitted[b]! - background[b]! - fitted[a]! + background[a]!) /
        (run.x[b]! - run.x[a]!);
    });
  }));
  // Next to a jump the slope means nothing.
  const limit = 4 * nthSmallest(slope.map(Math.abs), Math.floor(0.7 * n));
  const noise = 1.4826 * nthSmallest(residual.map(Math.abs), n >> 1);
  if (!(noise > 0)) return null;
  const scale = slope.map((value, i) =>
    Math.abs(value) > limit ? 0 : Math.sqrt(
      Math.min(1, 3 * noise / Math.max(1e-300, Math.abs(residual[i]!))),
    ) / noise
  );
  const rate = slope.map((value, i) => value * scale[i]!);
  const polynomials = legendreColumns(x, Math.max(2, order));
  const times = (column: Float64Array, by: Float64Array) =>
    column.map((value, i) => value * by[i]!);
  const basis: Float64Array[] = [];
  const reduce = (column: Float64Array) => {
    const left = Float64Array.from(column);
    for (let pass = 0; pass < 2; pass++) {
      for (const direction of basis) {
        const part = dot(left, direction);
        for (let i = 0; i < n; i++) left[i]! -= part * direction[i]!;
      }
    }
    return left;
  };
  const put = (column: Float64Array) => {
    const left = reduce(column);
    const size = Math.sqrt(dot(left, left));
    if (size > 1e-6 * Math.sqrt(dot(column, column))) {
      basis.push(left.map((value) => value / size));
    }
  };
  for (const p of polynomials.slice(0, 3)) put(times(p, scale));
  put(times(fringe, scale));
  polynomials.slice(0, order + 1).forEach((p, k) => {
    if (k !== 1) put(times(p, rate));
  });
  for (const column of more) put(times(column, rate));
  // The steps last, so that what they make up for is seen by itself.
  const steps = times(polynomials[1]!, rate);
  const own = reduce(steps);
  const length = dot(own, own);
  const asSteps = (column: Float64Array) =>
    length > 0 ? dot(column, own) / length : 0;
  put(steps);
  const left = reduce(times(residual, scale));
  const starts = [0];
  for (const run of runs) starts.push(starts.at(-1)! + run.x.length);
  /**
   * dF/dx above a place, without its parts along the basis: all are sums over the
   * samples above it, taken from end to end in one go.
   */
  const stepsAt = (run: number, places: readonly number[]): StepPart[] => {
    const out = places.map((): StepPart | null => null);
    const order = Array.from(
      runs[run]!.x.keys(),
      (i) => i + starts[run]!,
    ).sort((a, b) => place[b]! - place[a]!);
    const falling = Array.from(places.keys())
      .sort((a, b) => places[b]! - places[a]!);
    const along = new Float64Array(basis.length);
    let [part, raw, next] = [0, 0, 0];
    for (const k of falling) {
      while (next < order.length && place[order[next]!]! > places[k]!) {
        const i = order[next++]!;
        part += rate[i]! * left[i]!;
        raw += rate[i]! ** 2;
        for (let j = 0; j < basis.length; j++) {
          along[j]! += rate[i]! * basis[j]![i]!;
        }
      }
      out[k] = { part, raw, along: along.slice() };
    }
    return out as StepPart[];
  };
  const together = (parts: readonly StepPart[]): StepResponse => {
    let [part, raw, size, last] = [0, 0, 0, 0];
    for (const one of parts) {
      part += one.part;
      raw += one.raw;
    }
    size = raw;
    for (let j = 0; j < basis.length; j++) {
      last = 0;
      for (const { along } of parts) last += along[j]!;
      size -= last * last;
    }
    return size > 1e-6 * raw
      ? { part, size, asSteps: length > 0 ? last / Math.sqrt(length) : 0 }
      : { part: 0, size: 0, asSteps: 0 };
  };
  return { rate, reduce, stepsAt, together, asSteps, left };
}

/** A stroke with what its fit left. */
export interface StrokeRun {
  readonly stroke: Stroke;
  readonly run: FittedRun;
  /** Steps that were counted on it (1). */
  readonly steps: number;
}

/**
 * The counted strokes without missing samples, each by itself.
 *
 * @param paired Two by two instead, a rising and a falling one together.
 */
export function fittedRuns(
  { strokes, signals, counts }: RampCount,
  paired: boolean,
): StrokeRun[][] {
  const runs = strokes.map((stroke, i): StrokeRun | null => {
    const [signal, found] = [signals[i], counts[i]];
    if (
      !signal || !found || signal.x.length !== stroke.end - stroke.start
    ) return null;
    const { fitted, background, steps } = found;
    const { x, y } = signal;
    return {
      stroke,
      run: { x, place: powerOf(signal), y, fitted, background },
      steps,
    };
  });
  if (!paired) return runs.flatMap((run) => run === null ? [] : [[run]]);
  return runs.flatMap((run, i) => {
    const next = runs[i + 1];
    return i % 2 === 0 && run && next ? [[run, next]] : [];
  });
}

/** Whether rising and falling strokes share the parameters of their fits. */
export function fittedInPairs({ counts, signals }: RampCount): boolean {
  return counts.some((count, i) =>
    count?.model !== null && count?.model !== undefined &&
    (count.model.drift !== undefined ||
      count.model.fitted.length > (signals[i]?.x.length ?? Infinity))
  );
}
