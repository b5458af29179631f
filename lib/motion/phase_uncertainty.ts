import { basisAt, inverseBand } from "./cubic_spline.ts";
import type { PhaseFit } from "./phase_fit.ts";

/**
 * Standard uncertainty of φ0 along a fit: u² = b (A⁻¹ + K S Kᵀ) bᵀ with the
 * spline's normal matrix A, its basis b, the spline's change K per parameter
 * change and the parameters' covariance S. Taken at both ends and the middle of
 * each interval between knots and drawn straight in between.
 *
 * @param fit The fit.
 * @param sampleCount Samples of the record.
 * @param result Where to write; a new array if left out.
 * @returns One value per sample, in rad.
 */
export function phaseUncertainty(
  fit: Pick<
    PhaseFit,
    "coefficients" | "factor" | "coupling" | "covariance" | "spacing"
  >,
  sampleCount: number,
  result: Float32Array = new Float32Array(sampleCount),
): Float32Array {
  const { coefficients, factor, coupling, covariance, spacing } = fit;
  const size = coefficients.length;
  const inverse = inverseBand(factor, size);
  const count = coupling.length;
  const basis = new Float64Array(4);
  const moved = new Float64Array(count);
  const at = (interval: number, part: number): number => {
    basisAt(part, basis);
    let variance = 0;
    for (let a = 0; a < 4; a++) {
      const k = interval + a;
      variance += basis[a]! * basis[a]! * inverse[4 * k]!;
      for (let b = a + 1; b < 4; b++) {
        variance += 2 * basis[a]! * basis[b]! * inverse[4 * k + b - a]!;
      }
    }
    for (let c = 0; c < count; c++) {
      let sum = 0;
      for (let a = 0; a < 4; a++) {
        sum += basis[a]! * coupling[c]![interval + a]!;
      }
      moved[c] = sum;
    }
    for (let c = 0; c < count; c++) {
      for (let d = 0; d < count; d++) {
        variance += moved[c]! * moved[d]! * covariance[c * count + d]!;
      }
    }
    return Math.sqrt(Math.max(0, variance));
  };
  for (let interval = 0; interval < size - 3; interval++) {
    const start = interval * spacing;
    const end = Math.min(sampleCount, start + spacing);
    const u0 = at(interval, 0);
    const u1 = at(interval, 0.5);
    const u2 = at(interval, 1);
    const perSample = 2 / spacing;
    const middle = Math.min(end, start + Math.ceil(spacing / 2));
    const before = perSample * (u1 - u0);
    for (let i = start; i < middle; i++) result[i] = u0 + (i - start) * before;
    const after = perSample * (u2 - u1);
    const centre = start + spacing / 2;
    for (let i = middle; i < end; i++) result[i] = u1 + (i - centre) * after;
  }
  return result;
}

/**
 * The part of {@linkcode phaseUncertainty} that comes with the form of the fringes
 * and their levels: root mean square of sqrt(b K S Kᵀ bᵀ) along the fit, in rad.
 * Unlike that of the noise, it is the same at the same place of every fringe.
 */
export function formUncertainty(
  { coefficients, coupling, covariance }: Pick<
    PhaseFit,
    "coefficients" | "coupling" | "covariance"
  >,
): number {
  const count = coupling.length;
  const intervals = coefficients.length - 3;
  const basis = new Float64Array(4);
  basisAt(0, basis);
  let squares = 0;
  for (let k = 0; k < intervals; k++) {
    const moved = coupling.map((column) =>
      basis[0]! * column[k]! + basis[1]! * column[k + 1]! +
      basis[2]! * column[k + 2]! + basis[3]! * column[k + 3]!
    );
    for (let c = 0; c < count; c++) {
      for (let d = 0; d < count; d++) {
        squares += moved[c]! * moved[d]! * covariance[c * count + d]!;
      }
    }
  }
  return Math.sqrt(Math.max(0, squares) / Math.max(1, intervals));
}
