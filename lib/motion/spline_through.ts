import { basisTable } from "./cubic_spline.ts";
import { addPhaseRows } from "./interval_rows.ts";
import { addRoughness, makeSystem, solveSystem } from "./phase_system.ts";

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
  const n = phase.length;
  const system = makeSystem(Math.max(1, Math.ceil(n / spacing)) + 3);
  const basis = basisTable(spacing);
  const ones = new Float64Array(spacing).fill(1);
  for (let k = 0; k < system.size - 3; k++) {
    const start = k * spacing;
    const end = Math.min(n, start + spacing);
    const value = phase.subarray(start, end);
    const rows = { weight: ones, slope: ones, value };
    addPhaseRows(system, k, end - start, basis, rows);
  }
  addRoughness(system, null);
  return solveSystem(system, [])?.coefficients ??
    new Float64Array(system.size);
}
