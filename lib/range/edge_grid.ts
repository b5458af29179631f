import type { StrokeSignal } from "./stroke_signal.ts";

/** What sampling does to the count of edges that are sharper than a sample. */
export interface GridEffect {
  /** Spacing of the edges as seen less the true one, expected, in the unit of x. */
  readonly bias: number;
  /** Standard deviation of that, in the unit of x. */
  readonly deviation: number;
}

/** Spacings tried, up to a sample over the stroke to either side, and starts. */
const spacingsTried = 80;
const startsTried = 16;
/** Two spacings are alike to so much of a sample over the stroke (1). */
const likeness = 0.1;

/**
 * Edges sharper than a sample are seen at whole samples. Where there are nearly a
 * whole number of samples (or of halves, thirds) to a step, their errors do not
 * average out but make a slope. Which true spacings give the one that was seen is
 * tried out: all starts and spacings are taken as equally likely.
 *
 * @param numbers Numbers of the edges (1), rising.
 * @param spacing Spacing of the edges from a straight line through them.
 * @param grid Distance of the samples, in the same unit.
 */
export function gridEffect(
  numbers: readonly number[],
  spacing: number,
  grid: number,
): GridEffect {
  const middle = numbers.reduce((s, k) => s + k, 0) / numbers.length;
  const squares = numbers.reduce((s, k) => s + (k - middle) ** 2, 0);
  const unit = grid / (numbers.at(-1)! - numbers[0]!);
  let [weights, sum, sumOfSquares] = [0, 0, 0];
  for (let i = 0; i <= spacingsTried; i++) {
    const tried = spacing + unit * (2 * i / spacingsTried - 1);
    for (let j = 0; j < startsTried; j++) {
      const start = j / startsTried;
      let seen = 0;
      for (const k of numbers) {
        seen += (k - middle) * Math.floor(start + tried / grid * k);
      }
      seen *= grid / squares;
      const weight = Math.exp(
        -(((seen - spacing) / likeness / unit) ** 2) / 2,
      );
      const error = seen - tried;
      weights += weight;
      sum += weight * error;
      sumOfSquares += weight * error * error;
    }
  }
  if (!(weights > 0)) return { bias: 0, deviation: unit };
  const bias = sum / weights;
  return {
    bias,
    deviation: Math.sqrt(Math.max(0, sumOfSquares / weights - bias * bias)),
  };
}

/**
 * How much strokes share the places of their samples on the ramp: 1 where a
 * stroke takes a whole number of samples, near 0 where it does not.
 */
export function gridCoherence(
  signals: readonly (StrokeSignal | null)[],
): number {
  let [even, odd] = [0, 0];
  for (const signal of signals) {
    if (signal === null) continue;
    const angle = 2 * Math.PI * signal.x[0]! / gridOf(signal.x);
    even += Math.cos(angle);
    odd += Math.sin(angle);
  }
  return Math.hypot(even, odd) / Math.max(1, signals.length);
}

/** Mean distance of the samples of a stroke. */
export function gridOf(x: Float64Array): number {
  return Math.abs(x.at(-1)! - x[0]!) / (x.length - 1);
}
