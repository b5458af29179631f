import type { FringeFit } from "./fringe_fit.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { resample, type StrokeSignal } from "./stroke_signal.ts";

/** A place on the ramp where the phase of the fringes jumps. */
export interface PhaseBreak {
  /** Where, from -1 at the lower to 1 at the upper end of the ramp (1). */
  readonly x: number;
  /** By how much the phase jumps, less whole turns, in rad. */
  readonly phase: number;
  /** The jump over its standard deviation (1). */
  readonly significance: number;
}

/**
 * Looks for a break of the phase along a stroke: a mode hop, or a knock. The
 * signal is turned back by the guessed phase and averaged over one fringe; a
 * smooth course with one step is compared with a smooth course without.
 *
 * @returns The break; `null` where there is none that stands out of the noise,
 * or fewer than 5 steps to see it on.
 */
export function findPhaseBreak(
  signal: StrokeSignal,
  fit: FringeFit,
): PhaseBreak | null {
  const trace = fringePhase(signal, fit);
  if (trace === null) return null;
  const { x, phase, spacing } = trace;
  const points = x.length;
  const side = 4;
  let best: { at: number; change: number; sigma: number; rms: number } | null =
    null;
  for (let k = side; k <= points - side; k++) {
    const at = (x[k - 1]! + x[k]!) / 2;
    // Averages over the break hold both sides: leave them out.
    const keep = x.map((value) => Math.abs(value - at) > 1.1 * spacing ? 1 : 0);
    const count = keep.reduce((sum, value) => sum + value, 0);
    const order = count >= 14 ? 2 : 1;
    const u = x.map((value) =>
      2 * (value - x[0]!) / (x[points - 1]! - x[0]!) - 1
    );
    const columns = [
      ...legendreColumns(u, order),
      x.map((value) => value > at ? 1 : 0),
    ];
    const fit = solveColumns(columns, phase, keep);
    if (fit === null || count < columns.length + 2) continue;
    const variance = fit.residualSum / (count - columns.length);
    const sigma = Math.sqrt(
      variance * fit.variance(order + 1),
    );
    const rms = Math.sqrt(variance);
    if (best === null || rms < best.rms) {
      best = { at, change: fit.coefficients[order + 1]!, sigma, rms };
    }
  }
  if (best === null) return null;
  // A lag bends the phase smoothly; a hop must do better than any smooth bend.
  const u = x.map((value) =>
    2 * (value - x[0]!) / (x[points - 1]! - x[0]!) - 1
  );
  const smoothOrder = Math.min(7, Math.floor(points / 3));
  const smooth = solveColumns(legendreColumns(u, smoothOrder), phase);
  const bend = smooth === null
    ? 0
    : Math.sqrt(smooth.residualSum / (points - smoothOrder - 1));
  if (bend < 1.2 * best.rms) return null;
  const turns = best.change / (2 * Math.PI);
  const change = 2 * Math.PI * (turns - Math.round(turns));
  // Neighbouring points share half of their samples: √2 on sigma.
  const significance = Math.abs(best.change) / (Math.SQRT2 * best.sigma);
  if (significance < 7 || Math.abs(change) < 0.12 || best.rms > 0.8) {
    return null;
  }
  return {
    x: sharpen(signal, fit, best.at, spacing),
    phase: change,
    significance,
  };
}

/** Phase of the fringes less the guess, two points to a fringe. */
export function fringePhase(signal: StrokeSignal, fit: FringeFit) {
  const n = signal.x.length;
  const [a, b] = [signal.x[0]!, signal.x[n - 1]!];
  const fringes = fit.steps * Math.abs(b - a) / 2;
  if (fringes < 5 || n / fringes < 4) return null;
  const even = resample({
    x: signal.x,
    y: signal.y.map((value, i) => value - fit.background[i]!),
  }, n);
  const period = n / fringes;
  const points = Math.floor(2 * (fringes - 1));
  const x = new Float64Array(points);
  const phase = new Float64Array(points);
  for (let k = 0; k < points; k++) {
    const start = k * period / 2;
    let real = 0;
    let imaginary = 0;
    for (let i = Math.floor(start); i < start + period && i < n; i++) {
      const weight = Math.min(1, i + 1 - start, start + period - i);
      const angle = Math.PI * fit.steps * even.x[i]!;
      real += weight * even.y[i]! * Math.cos(angle);
      imaginary -= weight * even.y[i]! * Math.sin(angle);
    }
    const middle = Math.min(n - 1, Math.round(start + period / 2));
    x[k] = even.x[middle]!;
    const turned = Math.atan2(imaginary, real);
    phase[k] = k === 0 ? turned : turned - 2 * Math.PI *
        Math.round((turned - phase[k - 1]!) / (2 * Math.PI));
  }
  return { x, phase, spacing: 2 / fit.steps / 2 };
}

/** Where within a fringe two waveforms, one on either side, fit best. */
function sharpen(
  signal: StrokeSignal,
  fit: FringeFit,
  at: number,
  spacing: number,
): number {
  const reach = 4 * spacing;
  const pick = Array.from(signal.x.keys())
    .filter((i) => Math.abs(signal.x[i]! - at) < reach);
  const x = Float64Array.from(pick, (i) => signal.x[i]!);
  const y = Float64Array.from(pick, (i) => signal.y[i]!);
  let best = at;
  let least = Infinity;
  for (let k = -12; k <= 12; k++) {
    const split = at + k * spacing / 8;
    const columns = legendreColumns(x, 1);
    for (const side of [1, -1]) {
      const here = (value: number) => side * (value - split) > 0 ? 1 : 0;
      columns.push(
        x.map((v) => here(v) * Math.cos(Math.PI * fit.steps * v)),
        x.map((v) => here(v) * Math.sin(Math.PI * fit.steps * v)),
      );
    }
    const sum = solveColumns(columns, y)?.residualSum ?? Infinity;
    if (sum < least) [best, least] = [split, sum];
  }
  return best;
}

/** A break that the strokes of one direction have in common. */
export interface CommonBreak {
  /** Where, from -1 to 1 on the ramp (1). */
  readonly x: number;
  /** Scatter of the place between strokes (1). */
  readonly spread: number;
  /** Jump of the phase, less whole turns, in rad. */
  readonly phase: number;
  /** Strokes that show it. */
  readonly strokes: number;
}

/**
 * The break that most strokes of one direction show at the same current: a mode
 * hop. What only single strokes show is a knock and no hop.
 */
export function commonBreak(
  breaks: readonly (PhaseBreak | null)[],
  steps: number,
): CommonBreak | null {
  const found = breaks.filter((value) => value !== null);
  const least = Math.max(1, Math.ceil(0.6 * breaks.length));
  if (found.length < least) return null;
  const sorted = found.map(({ x }) => x).sort((a, b) => a - b);
  const middle = sorted[Math.floor(sorted.length / 2)]!;
  const near = found.filter(({ x }) => Math.abs(x - middle) < 3 / steps);
  if (near.length < least) return null;
  const mean = near.reduce((sum, { x }) => sum + x, 0) / near.length;
  const spread = Math.sqrt(
    near.reduce((sum, { x }) => sum + (x - mean) ** 2, 0) / near.length,
  );
  const real = near.reduce((sum, { phase }) => sum + Math.cos(phase), 0);
  const imaginary = near.reduce((sum, { phase }) => sum + Math.sin(phase), 0);
  return {
    x: mean,
    spread,
    phase: Math.atan2(imaginary, real),
    strokes: near.length,
  };
}
