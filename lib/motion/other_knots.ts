import type { PhaseFit } from "./phase_fit.ts";
import { tracePhase } from "./phase_residuals.ts";
import { addRoughness, phaseAt, solveSystem } from "./phase_system.ts";
import { systemThrough } from "./spline_through.ts";

/**
 * The spline of a fit on other knots, nearest where the samples tell φ0 best: least
 * squares with their weights and slopes.
 *
 * @param signal The signal.
 * @param fit Its fit.
 * @param spacing Samples between the other knots.
 * @returns Coefficients, in rad.
 */
export function onOtherKnots(
  signal: Float64Array,
  fit: PhaseFit,
  spacing: number,
): Float64Array {
  const near = drawnThrough(fit, spacing, signal.length);
  const trace = tracePhase(signal, fit);
  const noise = fit.noise / fit.parameters.amplitude;
  const slope = trace.slope.map((value) => value / noise);
  const value = trace.phase.map((phase, i) => slope[i]! * phase);
  const system = systemThrough(value, slope, trace.weight, spacing);
  addRoughness(system, near);
  return solveSystem(system, [])?.coefficients ?? near;
}

/** A spline through that of a fit: c = (8 f₀ - f₋₁ - f₊₁)/6. */
function drawnThrough(
  fit: PhaseFit,
  spacing: number,
  sampleCount: number,
): Float64Array {
  const size = Math.ceil(sampleCount / spacing) + 3;
  const last = sampleCount - 1;
  const inside = (place: number) =>
    phaseAt(fit.coefficients, fit.spacing, place);
  // Straight on beyond the ends.
  const at = (place: number) =>
    place < 0
      ? inside(0) + place * (inside(1) - inside(0))
      : place > last
      ? inside(last) + (place - last) * (inside(last) - inside(last - 1))
      : inside(place);
  return Float64Array.from({ length: size }, (_, k) => {
    const place = (k - 1) * spacing;
    return (8 * at(place) - at(place - spacing) - at(place + spacing)) / 6;
  });
}
