import { basisTable } from "./cubic_spline.ts";
import {
  addPhaseEquation,
  addRoughness,
  makeSystem,
  solveSystem,
} from "./phase_system.ts";

/**
 * Spline coefficients of a course of φ0, by least squares.
 *
 * @param phase φ0 of every sample, in rad.
 * @param spacing Samples between knots.
 * @returns Coefficients, in rad.
 */
export function splineThrough(
  phase: Float64Array,
  spacing: number,
): Float64Array {
  const system = makeSystem(Math.max(1, Math.ceil(phase.length / spacing)) + 3);
  const basis = basisTable(spacing);
  for (let i = 0; i < phase.length; i++) {
    const interval = Math.floor(i / spacing);
    addPhaseEquation(
      system,
      interval,
      basis,
      4 * (i - interval * spacing),
      0,
      0,
      phase[i]!,
      1,
    );
  }
  addRoughness(system, null);
  return solveSystem(system, [])?.coefficients ??
    new Float64Array(system.size);
}
