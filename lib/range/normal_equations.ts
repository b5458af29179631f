import { copyInto, copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";

/** Samples from which on each step of a fit is worth a checkpoint. */
const many = 1000;
/** Samples between two checkpoints of the innermost sums. */
const block = 1 << 17;

/** Normal equations XᵀWX b = XᵀWy. */
export interface NormalSystem {
  /** Unknowns. */
  readonly size: number;
  /** XᵀWX, row after row. */
  readonly matrix: Float64Array;
  /** XᵀWy. */
  readonly right: Float64Array;
}

/** A solution of {@linkcode NormalSystem}. */
export interface NormalCoefficients {
  /** One coefficient per column. */
  readonly coefficients: Float64Array;
  /** Diagonal of (XᵀWX)⁻¹: the variance of a coefficient for W of 1/σ². */
  readonly variance: (index: number) => number;
}

/** A least-squares solution by normal equations. */
export interface NormalSolution extends NormalCoefficients {
  /** Sum of squared residuals. */
  readonly residualSum: number;
  /** y minus fitted. */
  readonly residuals: Float64Array;
}

/**
 * Sums up the normal equations.
 *
 * @param columns The columns, all of the same length.
 * @param y The values.
 * @param weights One weight per value, or `null`.
 * @param known That of the first of these columns, or `null`.
 */
export function normalSystem(
  columns: readonly Float64Array[],
  y: Float64Array,
  weights: Float64Array | null = null,
  known: NormalSystem | null = null,
): NormalSystem {
  const size = columns.length;
  const n = y.length;
  const matrix = new Float64Array(size * size);
  const right = new Float64Array(size);
  const sums = new Float64Array(4);
  const weighted = weights === null ? null : new Float64Array(n);
  const start = known === null ? 0 : known.size;
  if (n > many) checkpoint();
  for (let j = 0; j < start; j++) {
    right[j] = known!.right[j]!;
    for (let k = 0; k < start; k++) {
      matrix[j * size + k] = known!.matrix[j * start + k]!;
    }
  }
  for (let j = start; j < size; j++) {
    let a = columns[j]!;
    if (weighted !== null) {
      for (let i = 0; i < n; i++) {
        weighted[i] = weights![i]! * a[i]!;
      }
      a = weighted;
    }
    // Four sums at a time do not wait for one another; the last is that with y.
    const at = (k: number) => k > 0 ? columns[k - 1]! : y;
    for (let k = j + 1; k >= 0; k -= 4) {
      fourSums(
        a,
        at(k),
        at(k - 1),
        at(k - 2),
        at(k - 3),
        sums,
      );
      for (let m = 0; m < 4 && k - m >= 0; m++) {
        if (k === m) right[j] = sums[m]!;
        else {
          matrix[j * size + k - m - 1] = sums[m]!;
          matrix[(k - m - 1) * size + j] = sums[m]!;
        }
      }
    }
  }
  return { size, matrix, right };
}

/** The normal equations of the first columns alone. */
export function leadingSystem(
  { size, matrix, right }: NormalSystem,
  count: number,
): NormalSystem {
  const out = new Float64Array(count * count);
  for (let j = 0; j < count; j++) {
    out.set(matrix.subarray(j * size, j * size + count), j * count);
  }
  return { size: count, matrix: out, right: right.slice(0, count) };
}

function fourSums(
  a: Float64Array,
  b: Float64Array,
  c: Float64Array,
  d: Float64Array,
  e: Float64Array,
  sums: Float64Array,
): void {
  let [p, q, r, s] = [0, 0, 0, 0];
  const n = a.length;
  for (let from = 0; from < n; from += block) {
    if (n > block) checkpoint();
    const to = Math.min(n, from + block);
    for (let i = from; i < to; i++) {
      const v = a[i]!;
      p += v * b[i]!;
      q += v * c[i]!;
      r += v * d[i]!;
      s += v * e[i]!;
    }
  }
  sums[0] = p;
  sums[1] = q;
  sums[2] = r;
  sums[3] = s;
}

/** Sums of products of a column with several. */
export function dots(
  a: Float64Array,
  columns: readonly Float64Array[],
): Float64Array {
  const out = new Float64Array(columns.length);
  const sums = new Float64Array(4);
  const at = (k: number) => columns[k] ?? a;
  for (let k = 0; k < columns.length; k += 4) {
    fourSums(a, at(k), at(k + 1), at(k + 2), at(k + 3), sums);
    out.set(sums.subarray(0, columns.length - k), k);
  }
  return out;
}

/** Product, value by value; in a new array unless one is given. */
export function product(
  a: Float64Array,
  b: Float64Array,
  out = new Float64Array(a.length),
): Float64Array {
  if (out.length > many) checkpoint();
  for (let i = 0; i < out.length; i++) {
    out[i] = a[i]! * b[i]!;
  }
  return out;
}

/** Sum of products. */
export function dot(a: Float64Array, b: Float64Array): number {
  // Sums that do not wait for one another.
  let [p, q, r, s] = [0, 0, 0, 0];
  const n = a.length;
  const whole = n & ~3;
  for (let from = 0; from < whole; from += block) {
    if (n > block) checkpoint();
    const to = Math.min(whole, from + block);
    for (let i = from; i < to; i += 4) {
      p += a[i]! * b[i]!;
      q += a[i + 1]! * b[i + 1]!;
      r += a[i + 2]! * b[i + 2]!;
      s += a[i + 3]! * b[i + 3]!;
    }
  }
  for (let i = whole; i < n; i++) p += a[i]! * b[i]!;
  return p + q + (r + s);
}

/** Sum of squares, weighted. */
function weightedSum(values: Float64Array, weights: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < values.length; i++) {
    sum += weights[i]! * values[i]! * values[i]!;
  }
  return sum;
}

/** Adds a column times a number. */
export function addTimes(
  to: Float64Array,
  factor: number,
  column: Float64Array,
): void {
  if (to.length > many) checkpoint();
  for (let i = 0; i < to.length; i++) {
    to[i]! += factor * column[i]!;
  }
}

/** Difference, value by value. */
export function difference(a: Float64Array, b: Float64Array): Float64Array {
  if (a.length > many) checkpoint();
  const out = new Float64Array(a.length);
  for (let i = 0; i < out.length; i++) {
    out[i] = a[i]! - b[i]!;
  }
  return out;
}

/**
 * Solves normal equations by Cholesky's method on the scaled matrix.
 *
 * @param system From {@linkcode normalSystem}.
 * @param damping Added to the diagonal of the scaled matrix (1).
 * @param dampedFrom First column that is damped.
 * @param prior Precision of each coefficient around 0 known beforehand, in the
 * unit of the weights, or `null`.
 * @returns The solution, or `null` if the columns depend on one another.
 */
export function solveNormal(
  { size: p, matrix, right }: NormalSystem,
  damping = 0,
  dampedFrom = 0,
  prior: readonly number[] | null = null,
): NormalCoefficients | null {
  const scale = new Float64Array(p);
  for (let j = 0; j < p; j++) {
    scale[j] = 1 / Math.sqrt(matrix[j * p + j]! + (prior?.[j] ?? 0) || 1);
  }
  const lower = new Float64Array(p * p);
  for (let j = 0; j < p; j++) {
    for (let k = 0; k <= j; k++) {
      let sum = matrix[j * p + k]!;
      if (j === k) sum += prior?.[j] ?? 0;
      sum *= scale[j]! * scale[k]!;
      if (j === k && j >= dampedFrom) sum += damping;
      for (let m = 0; m < k; m++) sum -= lower[j * p + m]! * lower[k * p + m]!;
      if (j === k) {
        // Not so for numbers that ran away, as in an iteration that failed.
        if (!(sum > 0)) return null;
        lower[j * p + j] = Math.sqrt(sum);
      } else lower[j * p + k] = sum / lower[k * p + k]!;
    }
  }
  const coefficients = new Float64Array(p);
  for (let j = 0; j < p; j++) {
    let sum = right[j]! * scale[j]!;
    for (let m = 0; m < j; m++) sum -= lower[j * p + m]! * coefficients[m]!;
    coefficients[j] = sum / lower[j * p + j]!;
  }
  for (let j = p - 1; j >= 0; j--) {
    let sum = coefficients[j]!;
    for (let m = j + 1; m < p; m++) {
      sum -= lower[m * p + j]! * coefficients[m]!;
    }
    coefficients[j] = sum / lower[j * p + j]!;
  }
  for (let j = 0; j < p; j++) coefficients[j]! *= scale[j]!;
  const variance = (index: number) => {
    // The column of L⁻¹; its length is the variance.
    const column = new Float64Array(p);
    let total = 0;
    for (let j = index; j < p; j++) {
      let sum = j === index ? 1 : 0;
      for (let m = index; m < j; m++) sum -= lower[j * p + m]! * column[m]!;
      column[j] = sum / lower[j * p + j]!;
      total += column[j]! ** 2;
    }
    return total * scale[index]! ** 2;
  };
  return { coefficients, variance };
}

/**
 * Least squares by the normal equations: fast for the thousands of samples of a
 * stroke and safe for the near-orthogonal columns used here (Legendre
 * polynomials, harmonics). Anything else belongs to the fit room.
 *
 * @param columns The columns, all of the same length.
 * @param y The values.
 * @param weights One weight per value, or `null`.
 * @param prior As for {@linkcode solveNormal}.
 * @returns The solution, or `null` if the columns depend on one another.
 */
export function solveColumns(
  columns: readonly Float64Array[],
  y: Float64Array,
  weights: Float64Array | null = null,
  prior: readonly number[] | null = null,
): NormalSolution | null {
  const system = normalSystem(columns, y, weights);
  return solveSystem(system, columns, y, weights, prior);
}

/** {@linkcode solveColumns} where the normal equations are summed up already. */
export function solveSystem(
  system: NormalSystem,
  columns: readonly Float64Array[],
  y: Float64Array,
  weights: Float64Array | null = null,
  prior: readonly number[] | null = null,
): NormalSolution | null {
  const solved = solveNormal(system, 0, 0, prior);
  if (solved === null) return null;
  const { coefficients } = solved;
  const residuals = copyOf(y);
  for (let j = 0; j < columns.length; j++) {
    addTimes(residuals, -coefficients[j]!, columns[j]!);
  }
  const residualSum = weights === null
    ? dot(residuals, residuals)
    : weightedSum(residuals, weights);
  return { coefficients, variance: solved.variance, residualSum, residuals };
}

/**
 * Legendre polynomials P0 … P`order` at each `u` (between -1 and 1).
 *
 * @param into Arrays of the length of `u` to write them to; new ones if left out.
 */
export function legendreColumns(
  u: Float64Array,
  order: number,
  into: readonly Float64Array[] = [],
): Float64Array[] {
  const n = u.length;
  const columns = Array.from(
    { length: order + 1 },
    (_, k) => into[k] ?? new Float64Array(n),
  );
  columns[0]!.fill(1);
  if (columns[1] !== undefined) copyInto(columns[1], 0, u);
  for (let k = 2; k <= order; k++) {
    if (n > many) checkpoint();
    const [column, b, a] = [columns[k]!, columns[k - 1]!, columns[k - 2]!];
    const [p, q] = [(2 * k - 1) / k, (k - 1) / k];
    for (let i = 0; i < n; i++) {
      column[i] = p * u[i]! * b[i]! - q * a[i]!;
    }
  }
  return columns;
}

/** `count` values evenly from -1 to 1. */
export function evenly(count: number): Float64Array {
  const u = new Float64Array(count);
  for (let i = 0; i < count; i++) {
    u[i] = 2 * i / (count - 1) - 1;
  }
  return u;
}
