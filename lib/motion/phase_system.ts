import { factorBand, solveBand } from "./cubic_spline.ts";
import { branchEnd, type FringeModel } from "./fringe_model.ts";
import type { FringeParameters } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";

/**
 * Normal equations of a spline with four bands and a border of parameters: p, q,
 * middle and amplitude (the last two over the amplitude), then, where the height
 * of the fringes is fitted, its own spline.
 */
export interface PhaseSystem {
  /** Spline coefficients. */
  readonly size: number;
  /** Lower bands, row k: [k][k-3] … [k][k]. */
  readonly band: Float64Array;
  /** Right side. */
  readonly right: Float64Array;
  /** Parameters of the border. */
  readonly columns: number;
  /** Border, columns of `size` one after the other. */
  readonly border: Float64Array;
  /** Corner, columns × columns. */
  readonly corner: Float64Array;
  /** Right side of the border. */
  readonly cornerRight: Float64Array;
}

/** Weighted sum of squared residuals (over the amplitude) and of the weights. */
export interface PhaseSums {
  readonly squares: number;
  readonly count: number;
}

const turn = 2 * Math.PI;

/** Makes an empty system. */
export function makeSystem(size: number, columns = 4): PhaseSystem {
  return {
    size,
    columns,
    band: new Float64Array(4 * size),
    right: new Float64Array(size),
    border: new Float64Array(columns * size),
    corner: new Float64Array(columns * columns),
    cornerRight: new Float64Array(columns),
  };
}

/** Sets everything to zero. */
export function clearSystem(system: PhaseSystem): void {
  system.band.fill(0);
  system.right.fill(0);
  system.border.fill(0);
  system.corner.fill(0);
  system.cornerRight.fill(0);
}

/**
 * Adds one equation for φ0 at a place between knots:
 * φ0 - sin φF δp - cos φF δq = value.
 */
export function addPhaseEquation(
  system: PhaseSystem,
  interval: number,
  basis: ArrayLike<number>,
  offset: number,
  sine: number,
  cosine: number,
  value: number,
  weight: number,
): void {
  const { band, right, border, corner, cornerRight, size, columns } = system;
  for (let a = 0; a < 4; a++) {
    const k = interval + a;
    const wb = weight * basis[offset + a]!;
    for (let b = 0; b <= a; b++) {
      band[4 * k + 3 - (a - b)]! += wb * basis[offset + b]!;
    }
    right[k]! += wb * value;
    border[k]! -= wb * sine;
    border[size + k]! -= wb * cosine;
  }
  corner[0]! += weight * sine * sine;
  corner[1]! += weight * sine * cosine;
  corner[columns]! += weight * sine * cosine;
  corner[columns + 1]! += weight * cosine * cosine;
  cornerRight[0]! -= weight * sine * value;
  cornerRight[1]! -= weight * cosine * value;
}

/** The system of the labelled pieces: no spline is known yet. */
export function accumulateLabels(
  system: PhaseSystem,
  signal: Float64Array,
  spacing: number,
  basis: Float64Array,
  parameters: FringeParameters,
  relativeNoise: number,
  labels: PhaseLabels,
): void {
  const { p, q, middle, amplitude, height } = parameters;
  const scale = 1 / (relativeNoise * relativeNoise);
  const { low, high } = labels.trusted;
  for (const { first, last, origin, sign } of labels.pieces) {
    for (let i = first; i <= last; i++) {
      const h = height === null ? 1 : height.values[i]!;
      const y = (signal[i]! - middle) / (amplitude * h);
      if (!(y > low && y < high)) continue;
      const theta = origin + sign * Math.acos(y);
      const sine = sign * Math.sqrt(1 - y * y);
      const derivative = Math.max(0.25, 1 + h * (p * y - q * sine));
      const interval = Math.floor(i / spacing);
      addPhaseEquation(
        system,
        interval,
        basis,
        4 * (i - interval * spacing),
        h * sine,
        h * y,
        theta,
        scale * (h * sine / derivative) ** 2,
      );
    }
  }
}

/** The system at a known spline: one equation per sample. */
export function accumulatePhase(
  system: PhaseSystem,
  signal: Float64Array,
  spacing: number,
  basis: Float64Array,
  coefficients: Float64Array,
  parameters: FringeParameters,
  model: FringeModel,
  relativeNoise: number,
  labels: PhaseLabels,
  outlier = Infinity,
): PhaseSums {
  const { middle, amplitude } = parameters;
  const { shift, reach, perRadian, entryOf } = model;
  const { band, right, border, corner, cornerRight, size } = system;
  const scale = 1 / (relativeNoise * relativeNoise);
  const folded = model.feedback > 1;
  const jumps = folded ? labels.jumps : [];
  const lastEntry = entryOf.length - 1;
  const n = signal.length;
  const A = new Float64Array(10);
  const B = new Float64Array(4);
  const F = new Float64Array(16);
  let nextJump = 0;
  let branch = labels.firstBranch;
  let skipFrom = jumps[0]?.first ?? Infinity;
  let skipTo = jumps[0]?.last ?? Infinity;
  let squares = 0;
  let count = 0;
  let e00 = 0, e01 = 0, e02 = 0, e03 = 0, e11 = 0, e12 = 0, e13 = 0;
  let e22 = 0, e23 = 0, e33 = 0, r0 = 0, r1 = 0, r2 = 0, r3 = 0;
  for (let k = 0; k < size - 3; k++) {
    const c0 = coefficients[k]!, c1 = coefficients[k + 1]!;
    const c2 = coefficients[k + 2]!, c3 = coefficients[k + 3]!;
    A.fill(0);
    B.fill(0);
    F.fill(0);
    const start = k * spacing;
    const end = Math.min(n, start + spacing);
    for (let i = start; i < end; i++) {
      if (i > skipFrom) {
        if (i < skipTo) continue;
        while (i >= skipTo) {
          branch += jumps[nextJump]!.sign;
          nextJump++;
          skipFrom = jumps[nextJump]?.first ?? Infinity;
          skipTo = jumps[nextJump]?.last ?? Infinity;
        }
        if (i > skipFrom) continue;
      }
      const y = (signal[i]! - middle) / amplitude;
      if (y !== y) continue;
      const o = 4 * (i - start);
      const b0 = basis[o]!, b1 = basis[o + 1]!;
      const b2 = basis[o + 2]!, b3 = basis[o + 3]!;
      const phase = c0 * b0 + c1 * b1 + c2 * b2 + c3 * b3;
      const t = phase + shift;
      const base = turn * (folded ? branch : Math.round(t / turn));
      let place = (t - base + reach) * perRadian;
      if (place < 0) place = 0;
      else if (place > lastEntry) place = lastEntry;
      const j = entryOf[place | 0]!;
      const cosine = model.signal[j]!;
      const g = model.slope[j]!;
      const tableError = phase - model.phase[j]! - base;
      // Residual at the spline's own phase, not at the table's.
      const near = tableError < 0.02 && tableError > -0.02;
      const residual = y - cosine - (near ? g * tableError : 0);
      // Far beyond the noise a sample pulls no harder (Huber 1964).
      const size = residual < 0 ? -residual : residual;
      const w = scale * model.weight[j]! *
        (size > outlier ? outlier / size : 1);
      squares += model.weight[j]! * residual * residual;
      count += model.weight[j]!;
      const d = y - cosine + g * (model.phase[j]! + base);
      const gs = -g * model.sine[j]!;
      const gc = -g * cosine;
      const wg = w * g;
      const w0 = wg * g * b0, w1 = wg * g * b1, w2 = wg * g * b2;
      A[0]! += w0 * b0;
      A[1]! += w0 * b1;
      A[2]! += w0 * b2;
      A[3]! += w0 * b3;
      A[4]! += w1 * b1;
      A[5]! += w1 * b2;
      A[6]! += w1 * b3;
      A[7]! += w2 * b2;
      A[8]! += w2 * b3;
      A[9]! += wg * g * b3 * b3;
      const wd = wg * d;
      B[0]! += wd * b0;
      B[1]! += wd * b1;
      B[2]! += wd * b2;
      B[3]! += wd * b3;
      const f0 = wg * gs, f1 = wg * gc, f2 = wg, f3 = wg * cosine;
      F[0]! += f0 * b0;
      F[1]! += f0 * b1;
      F[2]! += f0 * b2;
      F[3]! += f0 * b3;
      F[4]! += f1 * b0;
      F[5]! += f1 * b1;
      F[6]! += f1 * b2;
      F[7]! += f1 * b3;
      F[8]! += f2 * b0;
      F[9]! += f2 * b1;
      F[10]! += f2 * b2;
      F[11]! += f2 * b3;
      F[12]! += f3 * b0;
      F[13]! += f3 * b1;
      F[14]! += f3 * b2;
      F[15]! += f3 * b3;
      e00 += w * gs * gs;
      e01 += w * gs * gc;
      e02 += w * gs;
      e03 += w * gs * cosine;
      e11 += w * gc * gc;
      e12 += w * gc;
      e13 += w * gc * cosine;
      e22 += w;
      e23 += w * cosine;
      e33 += w * cosine * cosine;
      r0 += w * gs * d;
      r1 += w * gc * d;
      r2 += w * d;
      r3 += w * cosine * d;
    }
    let m = 0;
    for (let a = 0; a < 4; a++) {
      for (let b = a; b < 4; b++) {
        band[4 * (k + b) + 3 - (b - a)]! += A[m++]!;
      }
      right[k + a]! += B[a]!;
      for (let c = 0; c < 4; c++) border[c * size + k + a]! += F[4 * c + a]!;
    }
  }
  corner.set([
    ...[e00, e01, e02, e03],
    ...[e01, e11, e12, e13],
    ...[e02, e12, e22, e23],
    ...[e03, e13, e23, e33],
  ]);
  cornerRight.set([r0, r1, r2, r3]);
  if (folded) addJumps(system, spacing, basis, coefficients, model, labels);
  return { squares, count };
}

/**
 * Each jump says that φ0 reached the end of its branch between two samples: an
 * equation with the uncertainty of a uniform distribution over that time.
 */
export function addJumps(
  system: PhaseSystem,
  spacing: number,
  basis: Float64Array,
  coefficients: Float64Array,
  model: FringeModel,
  labels: PhaseLabels,
): void {
  let branch = labels.firstBranch;
  const intervals = system.size - 3;
  for (const { first, last, sign } of labels.jumps) {
    const fold = branchEnd(model, sign);
    const value = fold.phase + turn * branch;
    branch += sign;
    const before = phaseAt(coefficients, spacing, first);
    const after = phaseAt(coefficients, spacing, last);
    const uncertainty = Math.hypot((after - before) / Math.sqrt(12), 1e-3);
    const middle = (first + last) / 2;
    const interval = Math.min(intervals - 1, Math.floor(middle / spacing));
    const part = middle - interval * spacing;
    const low = 4 * Math.min(spacing - 1, Math.floor(part));
    const high = low + 4 < basis.length ? low + 4 : low;
    const share = part - Math.floor(part);
    const at = new Float64Array(4);
    for (let a = 0; a < 4; a++) {
      at[a] = (1 - share) * basis[low + a]! + share * basis[high + a]!;
    }
    addPhaseEquation(
      system,
      interval,
      at,
      0,
      fold.sine,
      fold.cosine,
      value,
      1 / (uncertainty * uncertainty),
    );
  }
}

/** φ0 of the spline at a sample, in rad. */
export function phaseAt(
  coefficients: Float64Array,
  spacing: number,
  sample: number,
): number {
  const interval = Math.min(
    coefficients.length - 4,
    Math.max(0, Math.floor(sample / spacing)),
  );
  const x = sample / spacing - interval;
  const y = 1 - x;
  return (y * y * y * coefficients[interval]! +
    (3 * x * x * x - 6 * x * x + 4) * coefficients[interval + 1]! +
    (3 * y * y * y - 6 * y * y + 4) * coefficients[interval + 2]! +
    x * x * x * coefficients[interval + 3]!) / 6;
}

/**
 * Adds the little that is known where no sample says anything: second
 * differences of the coefficients no larger than the record's own.
 */
export function addRoughness(
  system: PhaseSystem,
  coefficients: Float64Array | null,
): void {
  const { band, size } = system;
  let weight = 0;
  if (coefficients !== null) {
    let sum = 0;
    for (let k = 2; k < size; k++) {
      sum += (coefficients[k]! - 2 * coefficients[k - 1]! +
        coefficients[k - 2]!) ** 2;
    }
    weight = Math.max(1, size - 2) / (3 * sum + 1e-6);
  }
  let trace = 0;
  for (let k = 0; k < size; k++) trace += band[4 * k + 3]!;
  // Labels leave out turning points: the spline must bend evenly there.
  const least = coefficients === null ? 1e-5 : 1e-10;
  weight = Math.max(weight, least * trace / size, 1e-9);
  const part = [1, -2, 1];
  for (let k = 2; k < size; k++) {
    for (let a = 0; a < 3; a++) {
      for (let b = 0; b <= a; b++) {
        band[4 * (k - 2 + a) + 3 - (a - b)]! += weight * part[a]! * part[b]!;
      }
    }
  }
  // The level of φ0 itself is free, so something must hold an empty record.
  for (let k = 0; k < size; k++) {
    band[4 * k + 3]! += 1e-12 * trace / size + 1e-12;
  }
}

/** Solution of a {@linkcode PhaseSystem}. */
export interface PhaseSolution {
  readonly coefficients: Float64Array;
  /** Changes of the free parameters, in their order. */
  readonly parameters: Float64Array;
  /** Covariance of the free parameters, row by row. */
  readonly covariance: Float64Array;
  /** A⁻¹F: minus the spline's change per parameter's change. */
  readonly coupling: Float64Array[];
}

/**
 * Solves the system for the spline and the free parameters; leaves the factor in
 * `system.band`.
 *
 * @param system The normal equations.
 * @param free Which parameters of the border are free.
 * @returns The solution, or `null` if the equations do not determine it.
 */
export function solveSystem(
  system: PhaseSystem,
  free: readonly number[],
): PhaseSolution | null {
  const { size, columns, band, right, border, corner, cornerRight } = system;
  if (!factorBand(band, size)) return null;
  const coefficients = right.slice();
  solveBand(band, size, coefficients);
  const coupling = free.map((j) => {
    const column = border.slice(j * size, (j + 1) * size);
    solveBand(band, size, column);
    return column;
  });
  const count = free.length;
  const schur = new Float64Array(count * count);
  const values = new Float64Array(count);
  free.forEach((j, a) => {
    let sum = cornerRight[j]!;
    for (let k = 0; k < size; k++) {
      sum -= border[j * size + k]! * coefficients[k]!;
    }
    values[a] = sum;
    free.forEach((l, b) => {
      let entry = corner[columns * j + l]!;
      for (let k = 0; k < size; k++) {
        entry -= border[j * size + k]! * coupling[b]![k]!;
      }
      schur[a * count + b] = entry;
    });
    schur[a * count + a]! *= 1 + 1e-12;
  });
  const covariance = invert(schur, count);
  if (covariance === null) return null;
  const parameters = new Float64Array(count);
  for (let a = 0; a < count; a++) {
    for (let b = 0; b < count; b++) {
      parameters[a]! += covariance[a * count + b]! * values[b]!;
    }
  }
  for (let a = 0; a < count; a++) {
    for (let k = 0; k < size; k++) {
      coefficients[k]! -= coupling[a]![k]! * parameters[a]!;
    }
  }
  return { coefficients, parameters, covariance, coupling };
}

/** Inverse of a small symmetric positive matrix, or `null`. */
function invert(matrix: Float64Array, n: number): Float64Array | null {
  const a = Array.from(
    { length: n },
    (_, i) =>
      Float64Array.from(
        { length: 2 * n },
        (_, j) => j < n ? matrix[i * n + j]! : j - n === i ? 1 : 0,
      ),
  );
  for (let i = 0; i < n; i++) {
    const pivot = a[i]![i]!;
    if (!(pivot > 0)) return null;
    for (let j = 0; j < 2 * n; j++) a[i]![j]! /= pivot;
    for (let k = 0; k < n; k++) {
      if (k === i) continue;
      const factor = a[k]![i]!;
      for (let j = 0; j < 2 * n; j++) a[k]![j]! -= factor * a[i]![j]!;
    }
  }
  const result = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < n; j++) result[i * n + j] = a[i]![n + j]!;
  }
  return result;
}
