import { joinValues } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { RampCount } from "./count_ramp.ts";
import {
  difference,
  dot,
  dots,
  legendreColumns,
  type NormalSystem,
  normalSystem,
  product,
} from "./normal_equations.ts";
import type { Stroke } from "./ramps.ts";
import { nthSmallest, robustDeviation } from "./robust_weights.ts";
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

/** What a small change of the fringes, as by a step of their phase, leaves. */
export interface ChangePart {
  /** Its product with the reduced residuals (1). */
  readonly part: number;
  /** Square of its size before it is reduced (1). */
  readonly raw: number;
  /** Its parts along what the fit makes up for. */
  readonly along: Float64Array;
}

/** What several such changes leave together. */
export interface ChangeResponse {
  /** Product with the reduced residuals (1). */
  readonly part: number;
  /** Square of the reduced size (1); 0 where the fit makes up for it. */
  readonly size: number;
  /** Part that a change of the steps would make up for (1). */
  readonly asSteps: number;
}

/**
 * What a fit leaves, in units of its noise and without all that a small change of
 * the fit could still make up for: level, slope and bend of the power, amplitude,
 * and the phase as a polynomial of current.
 */
export interface Residuals {
  /** What a change of the current leaves, given for each sample (1). */
  readonly ofChange: (change: Float64Array) => ChangePart;
  /** What steps of the phase on a run leave, one at each of some places. */
  readonly stepsAt: (run: number, places: readonly number[]) => ChangePart[];
  /**
   * The same for several of them.
   *
   * @param least Part of the square of its size that must be left (1).
   */
  readonly together: (
    parts: readonly ChangePart[],
    least: number,
  ) => ChangeResponse;
}

/** Part of the square of a column's size that others must leave of it (1). */
const leastLeft = 1e-11;

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
  const x = joinValues(runs.map((run) => run.x));
  const n = x.length;
  const fringe = joinValues(
    runs.map((run) => difference(run.fitted, run.background)),
  );
  const residual = joinValues(
    runs.map((run) => difference(run.y, run.fitted)),
  );
  const starts = [0];
  for (const run of runs) starts.push(starts.at(-1)! + run.x.length);
  const slope = new Float64Array(n);
  runs.forEach((_, r) => {
    const first = starts[r]!;
    const last = starts[r + 1]! - 1;
    for (let i = first; i <= last; i++) {
      const a = Math.max(first, i - 1);
      const b = Math.min(last, i + 1);
      slope[i] = (fringe[b]! - fringe[a]!) / (x[b]! - x[a]!);
    }
  });
  checkpoint();
  const noise = robustDeviation(residual);
  if (!(noise > 0)) return null;
  // Next to a jump the slope means nothing.
  const limit = 4 * nthSmallest(slope.map(Math.abs), Math.floor(0.7 * n));
  const scale = new Float64Array(n);
  const rate = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    if (Math.abs(slope[i]!) > limit) continue;
    const size = Math.abs(residual[i]!);
    scale[i] = (size > 3 * noise ? Math.sqrt(3 * noise / size) : 1) / noise;
    rate[i] = slope[i]! * scale[i]!;
  }
  const polynomials = legendreColumns(x, Math.max(2, order));
  const made: Float64Array[] = [];
  for (let k = 0; k <= 2; k++) made.push(product(polynomials[k]!, scale));
  made.push(product(fringe, scale), rate);
  for (let k = 2; k <= order; k++) made.push(product(polynomials[k]!, rate));
  for (const column of more) made.push(product(column, rate));
  // The steps last, so that what they make up for is seen by itself.
  made.push(product(polynomials[1]!, rate));
  const left = product(residual, scale);
  const system = normalSystem(made, left);
  checkpoint();
  const { kept, lower } = independent(system);
  const columns = kept.map((j) => made[j]!);
  const last = kept.length - 1;
  const stepsSize = kept[last] === made.length - 1 ? lower[last]![last]! : 0;
  const leftAlong = forward(lower, kept.map((j) => system.right[j]!));
  /** From products of a change with itself, with what is left, and the columns. */
  const partOf = (sums: Float64Array): ChangePart => {
    const along = forward(lower, sums, 2);
    return { part: sums[1]! - dot(along, leftAlong), raw: sums[0]!, along };
  };
  return {
    ofChange(change) {
      const column = product(change, rate);
      return partOf(dots(column, [column, left, ...columns]));
    },
    stepsAt: (run, places) =>
      sumsAbove(
        runs[run]!.place,
        places,
        rate.subarray(starts[run], starts[run + 1]),
        [rate, left, ...columns].map((column) =>
          column.subarray(starts[run], starts[run + 1])
        ),
      ).map(partOf),
    together(parts, least) {
      let [part, raw] = [0, 0];
      for (const one of parts) {
        part += one.part;
        raw += one.raw;
      }
      let [size, along] = [raw, 0];
      for (let j = 0; j <= last; j++) {
        along = 0;
        for (let k = 0; k < parts.length; k++) along += parts[k]!.along[j]!;
        size -= along * along;
      }
      return size > least * raw
        ? { part, size, asSteps: stepsSize > 0 ? along / stepsSize : 0 }
        : { part: 0, size: 0, asSteps: 0 };
    },
  };
}

/** Columns that depend on none before them, and the factor of their matrix. */
function independent({ size, matrix }: NormalSystem) {
  const kept: number[] = [];
  const lower: Float64Array[] = [];
  for (let j = 0; j < size; j++) {
    const row = Float64Array.of(
      ...forward(lower, kept.map((k) => matrix[j * size + k]!)),
      0,
    );
    const whole = matrix[j * size + j]!;
    const own = whole - dot(row, row);
    if (!(own > leastLeft * whole)) continue;
    row[kept.length] = Math.sqrt(own);
    kept.push(j);
    lower.push(row);
  }
  return { kept, lower };
}

/** Solves a lower triangular system; its right side starts at an index. */
function forward(
  lower: readonly Float64Array[],
  right: ArrayLike<number>,
  start = 0,
): Float64Array {
  const out = new Float64Array(right.length - start);
  for (let j = 0; j < out.length; j++) {
    const row = lower[j]!;
    let sum = right[start + j]!;
    for (let k = 0; k < j; k++) sum -= row[k]! * out[k]!;
    out[j] = sum / row[j]!;
  }
  return out;
}

/**
 * Sums of products over the samples above each of some places.
 *
 * @param at Place of each sample; a stretch of samples between the same two of the
 * places is summed up in one go.
 * @param rate One factor.
 * @param columns The others.
 */
function sumsAbove(
  at: Float64Array,
  places: readonly number[],
  rate: Float64Array,
  columns: readonly Float64Array[],
): Float64Array[] {
  const order = Array.from(places.keys())
    .sort((a, b) => places[a]! - places[b]!);
  const bounds = [-Infinity, ...order.map((k) => places[k]!), Infinity];
  // Of the samples above so many places and no more.
  const sums = bounds.map(() => new Float64Array(columns.length));
  for (let from = 0, above = 0, to: number; from < at.length; from = to) {
    while (at[from]! > bounds[above + 1]!) above++;
    while (at[from]! <= bounds[above]!) above--;
    const [low, high] = [bounds[above]!, bounds[above + 1]!];
    to = from + 1;
    while (to < at.length && at[to]! > low && at[to]! <= high) to++;
    if (above === 0) continue;
    const own = sums[above]!;
    columns.forEach((column, k) => {
      let sum = 0;
      for (let i = from; i < to; i++) sum += rate[i]! * column[i]!;
      own[k]! += sum;
    });
  }
  for (let above = places.length - 1; above > 0; above--) {
    const [own, next] = [sums[above]!, sums[above + 1]!];
    for (let k = 0; k < own.length; k++) own[k]! += next[k]!;
  }
  const out: Float64Array[] = [];
  order.forEach((place, k) => out[place] = sums[k + 1]!);
  return out;
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
