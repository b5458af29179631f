import { CholeskyDecomposition, Matrix } from "ml-matrix";

/** A least-squares solution by normal equations. */
export interface NormalSolution {
  /** One coefficient per column. */
  readonly coefficients: Float64Array;
  /** (XᵀX)⁻¹. */
  readonly inverse: Matrix;
  /** Sum of squared residuals. */
  readonly residualSum: number;
  /** y minus fitted. */
  readonly residuals: Float64Array;
}

/**
 * Least squares by the normal equations: fast for the thousands of samples of a
 * stroke and safe for the near-orthogonal columns used here (Legendre
 * polynomials, harmonics). Anything else belongs to the fit room.
 *
 * @param columns The columns, all of the same length.
 * @param y The values.
 * @param weights One weight per value, or `null`.
 * @param damping Added to the diagonal of the scaled normal matrix (1).
 * @param dampedFrom First column that is damped.
 * @param prior Precision of each coefficient around 0 known beforehand, in the
 * unit of the weights, or `null`.
 * @returns The solution, or `null` if the columns depend on one another.
 */
export function solveColumns(
  columns: readonly Float64Array[],
  y: Float64Array,
  weights: Float64Array | null = null,
  damping = 0,
  dampedFrom = 0,
  prior: readonly number[] | null = null,
): NormalSolution | null {
  const p = columns.length;
  const n = y.length;
  const normal = new Matrix(p, p);
  const right = new Matrix(p, 1);
  const weighted = weights === null ? null : new Float64Array(n);
  for (let j = 0; j < p; j++) {
    let a = columns[j]!;
    if (weighted !== null) {
      for (let i = 0; i < n; i++) weighted[i] = weights![i]! * a[i]!;
      a = weighted;
    }
    for (let k = j; k < p; k++) {
      const sum = dot(a, columns[k]!);
      normal.set(j, k, sum);
      normal.set(k, j, sum);
    }
    right.set(j, 0, dot(a, y));
  }
  prior?.forEach((precision, j) =>
    normal.set(j, j, normal.get(j, j) + precision)
  );
  const scale = Array.from(
    { length: p },
    (_, j) => 1 / Math.sqrt(normal.get(j, j) || 1),
  );
  for (let j = 0; j < p; j++) {
    for (let k = 0; k < p; k++) {
      normal.set(j, k, normal.get(j, k) * (scale[j]! * scale[k]!));
    }
    right.set(j, 0, right.get(j, 0) * scale[j]!);
    if (j >= dampedFrom) normal.set(j, j, normal.get(j, j) + damping);
  }
  // Numbers that ran away, as in an iteration that failed.
  for (let j = 0; j < p; j++) {
    for (let k = 0; k <= j; k++) {
      if (!Number.isFinite(normal.get(j, k))) return null;
    }
  }
  const cholesky = new CholeskyDecomposition(normal);
  if (!cholesky.isPositiveDefinite()) return null;
  const solved = cholesky.solve(right);
  const inverse = cholesky.solve(Matrix.eye(p));
  const coefficients = new Float64Array(p);
  for (let j = 0; j < p; j++) {
    coefficients[j] = solved.get(j, 0) * scale[j]!;
    for (let k = 0; k < p; k++) {
      inverse.set(j, k, inverse.get(j, k) * scale[j]! * scale[k]!);
    }
  }
  const residuals = Float64Array.from(y);
  for (let j = 0; j < p; j++) {
    const c = coefficients[j]!;
    const a = columns[j]!;
    for (let i = 0; i < n; i++) residuals[i]! -= c * a[i]!;
  }
  let residualSum = 0;
  for (let i = 0; i < n; i++) {
    residualSum += (weights?.[i] ?? 1) * residuals[i]! ** 2;
  }
  return { coefficients, inverse, residualSum, residuals };
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i]! * b[i]!;
  return sum;
}

/** Legendre polynomials P0 … P`order` at each `u` (between -1 and 1). */
export function legendreColumns(
  u: Float64Array,
  order: number,
): Float64Array[] {
  const columns = [new Float64Array(u.length).fill(1)];
  if (order >= 1) columns.push(Float64Array.from(u));
  for (let k = 2; k <= order; k++) {
    const [b, a] = [columns[k - 1]!, columns[k - 2]!];
    columns.push(
      u.map((x, i) => ((2 * k - 1) * x * b[i]! - (k - 1) * a[i]!) / k),
    );
  }
  return columns;
}

/** `count` values evenly from -1 to 1. */
export function evenly(count: number): Float64Array {
  const u = new Float64Array(count);
  for (let i = 0; i < count; i++) u[i] = 2 * i / (count - 1) - 1;
  return u;
}
