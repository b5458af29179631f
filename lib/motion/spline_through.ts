import { basisTable } from "./cubic_spline.ts";
import { addPhaseRows } from "./interval_rows.ts";
import {
  addRoughness,
  makeSystem,
  type PhaseSystem,
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
  const ones = new Float64Array(phase.length).fill(1);
  const system = systemThrough(phase, ones, ones, spacing);
  addRoughness(system, null);
  return solveSystem(system, [])?.coefficients ??
    new Float64Array(system.size);
}

/**
 * Normal equations of a spline: the slope of each sample times the spline is its
 * value.
 *
 * @param value Right side of each sample's equation.
 * @param slope Its slope.
 * @param weight Its weight; 0 leaves it out.
 * @param spacing Samples between knots.
 */
export function systemThrough(
  value: Float64Array,
  slope: Float64Array,
  weight: Float64Array,
  spacing: number,
): PhaseSystem {
  const n = value.length;
  const system = makeSystem(Math.max(1, Math.ceil(n / spacing)) + 3);
  const basis = basisTable(spacing);
  for (let k = 0; k < system.size - 3; k++) {
    const start = k * spacing;
    const count = Math.min(n - start, spacing);
    addPhaseRows(system, k, count, basis, weight, slope, value, start);
  }
  return system;
}
