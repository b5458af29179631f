import { basisTable } from "./cubic_spline.ts";

/** Writes the φ0 of a spline at every sample, in rad. */
export function drawSpline(
  coefficients: Float64Array,
  spacing: number,
  phase: Float64Array,
): void {
  const basis = basisTable(spacing);
  const { length } = phase;
  const intervals = coefficients.length - 3;
  for (let k = 0; k < intervals; k++) {
    const c0 = coefficients[k]!, c1 = coefficients[k + 1]!;
    const c2 = coefficients[k + 2]!, c3 = coefficients[k + 3]!;
    const start = k * spacing;
    const end = Math.min(length, start + spacing);
    let o = 0;
    for (let i = start; i < end; i++) {
      phase[i] = c0 * basis[o]! + c1 * basis[o + 1]! + c2 * basis[o + 2]! +
        c3 * basis[o + 3]!;
      o += 4;
    }
  }
}
