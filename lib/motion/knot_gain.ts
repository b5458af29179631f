import type { PhaseFit } from "./phase_fit.ts";
import { type PhaseTrace, tracePhase } from "./phase_residuals.ts";
import { addRoughness, solveSystem } from "./phase_system.ts";
import { systemThrough } from "./spline_through.ts";

/**
 * What each coefficient more must take off the squared residuals over the noise's,
 * more than the 2 of Akaike's criterion: not all that is left is motion (1).
 */
const leastGain = 3;
/** Parts of the distance that are tried (1). */
const triedParts = [0.8, 0.63, 0.5] as const;

/**
 * Samples between knots that a motion asks for, if those of its fit are too far
 * apart: a spline through what it leaves tells what closer ones gain.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @returns Samples between knots, at most those of the fit.
 */
export function suitedSpacing(signal: Float64Array, fit: PhaseFit): number {
  const trace = tracePhase(signal, fit);
  const variance = (fit.noise / fit.parameters.amplitude) ** 2;
  let best = fit.spacing;
  let least = leastGain * fit.coefficients.length;
  for (const part of triedParts) {
    const spacing = Math.round(part * fit.spacing);
    if (spacing < 3) break;
    const { size, gain } = splineThroughRest(trace, spacing);
    const cost = leastGain * size - gain / variance;
    if (cost < least) {
      least = cost;
      best = spacing;
    }
  }
  return best;
}

/**
 * Whether Akaike's criterion prefers knots so close that they follow each fringe:
 * then something else than the motion changes.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @param fastest Samples of the shortest half fringe.
 */
export function followsFringes(
  signal: Float64Array,
  fit: PhaseFit,
  fastest: number,
): boolean {
  const spacing = Math.max(3, Math.round(0.6 * fastest));
  const { size, gain } = splineThroughRest(tracePhase(signal, fit), spacing);
  const variance = (fit.noise / fit.parameters.amplitude) ** 2;
  return gain / variance > 2 * (size - fit.coefficients.length);
}

/** Coefficients of a spline through what a fit leaves, and what it takes off that. */
function splineThroughRest(
  { residual, slope, weight }: PhaseTrace,
  spacing: number,
): { readonly size: number; readonly gain: number } {
  const system = systemThrough(residual, slope, weight, spacing);
  addRoughness(system, null);
  const flat = new Float64Array(system.size);
  return { size: system.size, gain: solveSystem(system, [], flat)?.gain ?? 0 };
}
