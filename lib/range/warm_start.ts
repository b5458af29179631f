import type { RampCount } from "./count_ramp.ts";
import type { FeedbackFit } from "./feedback_fit.ts";
import type { FringeFit } from "./fringe_fit.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import type { Stroke } from "./ramps.ts";
import type { StrokeSignal } from "./stroke_signal.ts";

/** Samples of a stroke on which a phase is carried over. */
const places = 60;

/** A stroke's signal with the stroke. */
interface Placed {
  readonly stroke: Stroke;
  readonly signal: StrokeSignal;
}

/** Fits of the same strokes against another current. */
export interface WarmStarts {
  /** Start for the waveform of a stroke; `null` for none. */
  readonly waveform: (i: number) => FringeFit | null;
  /** Start for a stroke that was fitted by itself. */
  readonly model: (i: number) => FeedbackFit | null;
  /** Start for a stroke and the next, fitted together. */
  readonly pair: (i: number) => FeedbackFit | null;
}

/**
 * Starts from a count of the same capture, counted against a current that
 * lagged otherwise: at each sample the phase stays what it was, its polynomial
 * is that against the current of now.
 *
 * @param before The count.
 * @param strokes The strokes of now.
 * @param signals Their signals.
 */
export function warmStarts(
  before: RampCount,
  strokes: readonly Stroke[],
  signals: readonly (StrokeSignal | null)[],
): WarmStarts {
  const whole = (stroke: Stroke, signal: StrokeSignal | null | undefined) =>
    signal?.x.length === stroke.end - stroke.start;
  const at = (i: number): { old: Placed; now: Placed } | null => {
    const [was, is] = [before.strokes[i], strokes[i]];
    if (
      !was || !is || was.direction !== is.direction ||
      !whole(was, before.signals[i]) || !whole(is, signals[i])
    ) return null;
    return {
      old: { stroke: was, signal: before.signals[i]! },
      now: { stroke: is, signal: signals[i]! },
    };
  };
  const moved = (
    pairs: readonly ({ old: Placed; now: Placed } | null)[],
    offset: number,
    phase: readonly number[],
    drift: number | undefined,
  ) => {
    if (pairs.some((pair) => pair === null)) return null;
    const lengths = (which: "old" | "now") =>
      pairs.map((pair) => pair![which].signal.x.length);
    const total = (which: "old" | "now") =>
      lengths(which).reduce((sum, value) => sum + value, 0);
    const old = { x: [] as number[], time: [] as number[] };
    const now = { x: [] as number[], time: [] as number[] };
    let [oldBefore, nowBefore] = [0, 0];
    for (const pair of pairs) {
      const from = Math.max(pair!.old.stroke.start, pair!.now.stroke.start);
      const to = Math.min(pair!.old.stroke.end, pair!.now.stroke.end);
      for (let k = 0; k < places; k++) {
        const sample = Math.floor(from + (to - 1 - from) * k / (places - 1));
        const [a, b] = [
          sample - pair!.old.stroke.start,
          sample - pair!.now.stroke.start,
        ];
        old.x.push(pair!.old.signal.x[a]!);
        now.x.push(pair!.now.signal.x[b]!);
        old.time.push(2 * (oldBefore + a) / (total("old") - 1) - 1);
        now.time.push(2 * (nowBefore + b) / (total("now") - 1) - 1);
      }
      oldBefore += pair!.old.signal.x.length;
      nowBefore += pair!.now.signal.x.length;
    }
    const polynomials = legendreColumns(Float64Array.from(old.x), phase.length);
    const t = Float64Array.from(old.time, (time, i) =>
      phase.reduce(
        (sum, value, k) => sum - value * polynomials[k + 1]![i]!,
        offset + (drift ?? 0) * time,
      ));
    const columns = legendreColumns(Float64Array.from(now.x), phase.length);
    if (drift !== undefined) columns.push(Float64Array.from(now.time));
    const solved = solveColumns(columns, t)?.coefficients;
    return solved === undefined ? null : {
      offset: solved[0]!,
      phase: phase.map((_, k) => -solved[k + 1]!),
      ...(drift === undefined ? {} : { drift: solved[phase.length + 1]! }),
    };
  };
  return {
    waveform(i) {
      const fit = before.waveforms[i];
      const from = at(i);
      if (!fit || from === null) return null;
      const carried = moved([from], 0, fit.phase, undefined);
      return carried === null ? null : { ...fit, phase: carried.phase };
    },
    model(i) {
      const fit = before.counts[i]?.model;
      const from = at(i);
      if (
        !fit || from === null || fit.drift !== undefined ||
        fit.fitted.length !== from.old.signal.x.length
      ) return null;
      const carried = moved([from], fit.offset, fit.phase, undefined);
      return carried === null ? null : { ...fit, ...carried };
    },
    pair(i) {
      const fit = before.counts[i]?.model;
      const [first, second] = [at(i), at(i + 1)];
      if (!fit || first === null || second === null) return null;
      const length = first.old.signal.x.length + second.old.signal.x.length;
      if (fit.drift === undefined && fit.fitted.length !== length) return null;
      const carried = moved(
        [first, second],
        fit.offset,
        fit.phase,
        fit.drift,
      );
      return carried === null ? null : { ...fit, ...carried };
    },
  };
}
