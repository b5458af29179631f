import { factorBand, solveBand } from "./cubic_spline.ts";
import { branchEnd, type FringeModel } from "./fringe_model.ts";
import {
  addBorderRows,
  addPhaseRows,
  type IntervalRows,
  makeRows,
  mirrorCorner,
} from "./interval_rows.ts";
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

/**
 * The system at a known spline: one equation per sample.
 *
 * @param withBorder Whether parameters are free: without them it takes half as long.
 */
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
  outlier: number,
  withBorder: boolean,
): PhaseSums {
  const scale = 1 / (relativeNoise * relativeNoise);
  const jumps = model.feedback > 1 ? labels.jumps : [];
  const n = signal.length;
  const rows = makeRows(spacing);
  const sums = new Float64Array(2);
  let next = 0;
  let branch = labels.firstBranch;
  for (let k = 0; k < system.size - 3; k++) {
    const start = k * spacing;
    const end = Math.min(n, start + spacing);
    rows.weight.fill(0);
    // From jump to jump; samples on an edge are left out.
    for (let i = start; i < end;) {
      const jump = jumps[next];
      const last = Math.min(end, (jump?.first ?? n) + 1);
      if (i < last) {
        readRows(
          rows,
          sums,
          signal,
          start,
          i,
          last,
          basis,
          coefficients,
          k,
          parameters,
          model,
          model.feedback > 1 ? turn * branch : NaN,
          scale,
          outlier,
        );
      }
      if (jump === undefined || jump.last >= end) break;
      i = jump.last;
      branch += jump.sign;
      next++;
    }
    const { weight, slope, value } = rows;
    addPhaseRows(system, k, end - start, basis, weight, slope, value);
    if (withBorder) addBorderRows(system, k, end - start, basis, rows);
  }
  mirrorCorner(system);
  if (model.feedback > 1) {
    addJumps(system, spacing, basis, coefficients, model, labels);
  }
  return { squares: sums[0]!, count: sums[1]! };
}

/**
 * What samples of one interval and one branch say at a known spline.
 *
 * @param base φF at the middle of the branch, in rad; `NaN` takes it from φ0.
 */
function readRows(
  rows: IntervalRows,
  sums: Float64Array,
  signal: Float64Array,
  start: number,
  from: number,
  to: number,
  basis: Float64Array,
  coefficients: Float64Array,
  k: number,
  { middle, amplitude }: FringeParameters,
  model: FringeModel,
  base: number,
  scale: number,
  outlier: number,
): void {
  const { shift, reach, perRadian, entryOf } = model;
  const lastEntry = entryOf.length - 1;
  const perUnit = 1 / amplitude;
  const follows = base !== base;
  const c0 = coefficients[k]!, c1 = coefficients[k + 1]!;
  const c2 = coefficients[k + 2]!, c3 = coefficients[k + 3]!;
  let squares = 0;
  let count = 0;
  let middlePhase = base;
  for (let i = from; i < to; i++) {
    const y = (signal[i]! - middle) * perUnit;
    if (y !== y) continue;
    const r = i - start;
    const o = 4 * r;
    const phase = c0 * basis[o]! + c1 * basis[o + 1]! + c2 * basis[o + 2]! +
      c3 * basis[o + 3]!;
    if (follows) middlePhase = turn * Math.floor((phase + shift) / turn + 0.5);
    const place = (phase + shift - middlePhase + reach) * perRadian;
    const j = entryOf[
      place > 0 ? (place < lastEntry ? place | 0 : lastEntry) : 0
    ]!;
    const cosine = model.signal[j]!;
    const g = model.slope[j]!;
    const weight = model.weight[j]!;
    const entry = model.phase[j]! + middlePhase;
    const off = y - cosine;
    const tableError = phase - entry;
    // Residual at the spline's own phase, not at the table's.
    const near = tableError < 0.02 && tableError > -0.02;
    const residual = near ? off - g * tableError : off;
    // Far beyond the noise a sample pulls no harder (Huber 1964).
    const size = Math.abs(residual);
    rows.weight[r] = size > outlier
      ? scale * weight * outlier / size
      : scale * weight;
    rows.slope[r] = g;
    rows.value[r] = off + g * entry;
    rows.sine[r] = model.sine[j]!;
    rows.cosine[r] = cosine;
    squares += weight * residual * residual;
    count += weight;
  }
  sums[0]! += squares;
  sums[1]! += count;
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
  const folds = { up: branchEnd(model, 1), down: branchEnd(model, -1) };
  const at = new Float64Array(4);
  for (const { first, last, sign } of labels.jumps) {
    const fold = sign > 0 ? folds.up : folds.down;
    const value = fold.phase + turn * branch;
    branch += sign;
    const before = phaseAt(coefficients, spacing, first);
    const after = phaseAt(coefficients, spacing, last);
    const variance = (after - before) ** 2 / 12 + 1e-6;
    const middle = (first + last) / 2;
    const interval = Math.min(intervals - 1, Math.floor(middle / spacing));
    const part = middle - interval * spacing;
    const low = 4 * Math.min(spacing - 1, Math.floor(part));
    const high = low + 4 < basis.length ? low + 4 : low;
    const share = part - Math.floor(part);
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
      1 / variance,
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
  /** By how much the step lessens the weighted sum of squares (1). */
  readonly gain: number;
}

/**
 * Solves the system for the spline and the free parameters; leaves the factor in
 * `system.band`.
 *
 * @param system The normal equations.
 * @param free Which parameters of the border are free.
 * @param before Spline from which the step leads on; `null` where there is none.
 * @returns The solution, or `null` if the equations do not determine it.
 */
export function solveSystem(
  system: PhaseSystem,
  free: readonly number[],
  before: Float64Array | null = null,
): PhaseSolution | null {
  const { size, columns, band, right, border, corner, cornerRight } = system;
  if (!factorBand(band, size)) return null;
  const coefficients = right.slice();
  solveBand(band, size, coefficients);
  let gain = before === null ? NaN : squareOf(band, coefficients, before);
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
    gain += parameters[a]! * values[a]!;
  }
  for (let a = 0; a < count; a++) {
    for (let k = 0; k < size; k++) {
      coefficients[k]! -= coupling[a]![k]! * parameters[a]!;
    }
  }
  return { coefficients, parameters, covariance, coupling, gain };
}

/** |Lᵀ(next - before)|² with the factor L of the band. */
function squareOf(
  factor: Float64Array,
  next: Float64Array,
  before: Float64Array,
): number {
  const size = next.length;
  let sum = 0;
  for (let k = 0; k < size; k++) {
    let value = 0;
    for (let row = k; row < Math.min(size, k + 4); row++) {
      value += factor[4 * row + 3 - (row - k)]! * (next[row]! - before[row]!);
    }
    sum += value * value;
  }
  return sum;
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
