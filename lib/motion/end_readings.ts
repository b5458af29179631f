import { cutLabels } from "./cut_labels.ts";
import { fitPhase, type PhaseFit } from "./phase_fit.ts";
import { tracePhase } from "./phase_residuals.ts";
import { phaseAt } from "./phase_system.ts";
import { splineThrough } from "./spline_through.ts";

/**
 * Another reading of what comes after the last (or before the first) extremes: the
 * target may have turned at an extreme instead of passing it, or passed it instead
 * of turning, and too little follows to tell.
 */
export interface EndReading {
  /** First sample that reads otherwise. */
  readonly first: number;
  /** Last sample that reads otherwise. */
  readonly last: number;
  /** φ0 of every sample of the record in this reading, in rad. */
  readonly phase: Float64Array;
  /** Its squared residuals minus those of the fit, over the noise's square (1). */
  readonly excess: number;
}

/** Extremes from each end at which another reading is tried. */
const mostPlaces = 4;
/** Knots of the fit on the inner side of such an extreme. */
const knotsInside = 8;
/** Closer to an extreme of cos than this φF may turn there, in rad. */
const nearExtreme = 0.6;

/**
 * Reads the ends of a record the other way: mirrors φF at each of the outermost
 * extremes, fits that with the feedback held, and compares what is left.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @returns The readings, those that leave least first.
 */
export function otherEnds(
  signal: Float64Array,
  fit: PhaseFit,
): EndReading[] {
  const n = signal.length;
  const { p, q } = fit.parameters;
  const { phase, feedbackPhase } = tracePhase(signal, fit);
  // φF without the modulo: φ0 = φF + p sin φF + q cos φF.
  const whole = phase.map((value, i) =>
    value - p * Math.sin(feedbackPhase[i]!) - q * Math.cos(feedbackPhase[i]!)
  );
  const readings: EndReading[] = [];
  for (const atStart of [false, true]) {
    for (
      const place of extremesAt(whole, atStart, innermost(fit, n, atStart))
    ) {
      const mirror = 2 * Math.PI * Math.round(whole[place]! / Math.PI);
      const first = atStart ? 0 : place;
      const last = atStart ? place : n - 1;
      const other = phase.slice();
      for (let i = first; i <= last; i++) {
        // sin changes its sign and cos does not.
        other[i] = mirror - whole[i]! - p * Math.sin(feedbackPhase[i]!) +
          q * Math.cos(feedbackPhase[i]!);
      }
      const reading = compared(signal, fit, phase, other, first, last, atStart);
      if (reading !== null) readings.push(reading);
    }
  }
  return readings.sort((a, b) => a.excess - b.excess);
}

/** Outermost sample that a jump fixes: nothing is mirrored across it. */
function innermost(fit: PhaseFit, n: number, atStart: boolean): number {
  const jumps = fit.model.feedback > 1 ? fit.labels.jumps : [];
  if (atStart) return jumps[0]?.first ?? n - 1;
  return jumps.at(-1)?.last ?? 0;
}

/** The outermost places where φF passes or almost reaches a multiple of π. */
function extremesAt(
  whole: Float64Array,
  atStart: boolean,
  limit: number,
): number[] {
  const n = whole.length;
  const places: number[] = [];
  const distance = (i: number) => {
    const turns = whole[i]! / Math.PI;
    return Math.abs(turns - Math.round(turns)) * Math.PI;
  };
  const step = atStart ? 1 : -1;
  for (
    let i = atStart ? 2 : n - 3;
    i > 1 && i < n - 2 && places.length < mostPlaces &&
    (atStart ? i < limit : i > limit);
    i += step
  ) {
    if (
      distance(i) < nearExtreme && distance(i) <= distance(i - 1) &&
      distance(i) < distance(i + 1)
    ) places.push(i);
  }
  return places;
}

/** The other reading of a part, fitted like the one that is kept. */
function compared(
  signal: Float64Array,
  fit: PhaseFit,
  phase: Float64Array,
  other: Float64Array,
  first: number,
  last: number,
  atStart: boolean,
): EndReading | null {
  const inside = knotsInside * fit.spacing;
  const from = atStart ? 0 : Math.max(0, first - inside);
  const to = atStart ? Math.min(signal.length, last + inside) : signal.length;
  if (to - from < 4 * fit.spacing) return null;
  const part = signal.subarray(from, to);
  const labels = cutLabels(fit.labels, from, to);
  const fitted = (course: Float64Array) =>
    fitPhase({
      signal: part,
      spacing: fit.spacing,
      labels,
      coefficients: splineThrough(course.subarray(from, to), fit.spacing),
      noise: fit.noise,
      parameters: fit.parameters,
      fitFeedback: false,
      fitLevels: false,
      iterations: 8,
    });
  const own = fitted(phase);
  const next = fitted(other);
  const variance = (fit.noise / fit.parameters.amplitude) ** 2;
  const excess = (next.residualSquares - own.residualSquares) / variance;
  if (!Number.isFinite(excess)) return null;
  const course = phase.slice();
  let apart = 0;
  for (let i = first; i <= last; i++) {
    course[i] = phaseAt(next.coefficients, fit.spacing, i - from);
    apart = Math.max(apart, Math.abs(course[i]! - phase[i]!));
  }
  // It may have found its way back to the same course.
  return apart < 0.1 ? null : { first, last, phase: course, excess };
}
