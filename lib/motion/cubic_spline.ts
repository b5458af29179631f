import { checkpoint } from "../progress/mod.ts";

/** Mask of the knots between two checkpoints. */
const stride = 0xffff;

/** Tables of the distances that were asked for last. */
const tables = new Map<number, Float64Array>();
const mostTables = 8;

/**
 * Values of the four cubic B-splines that overlap one interval between knots,
 * at the samples of that interval.
 *
 * @param spacing Samples between knots, a whole number above 0.
 * @returns Four values per sample, 4 × spacing; shared, not to be changed.
 */
export function basisTable(spacing: number): Float64Array {
  const known = tables.get(spacing);
  if (known !== undefined) return known;
  const table = new Float64Array(4 * spacing);
  for (let r = 0; r < spacing; r++) basisAt(r / spacing, table, 4 * r);
  if (tables.size >= mostTables) tables.clear();
  tables.set(spacing, table);
  return table;
}

/** The four values at a place 0 ≤ x ≤ 1 within an interval. */
export function basisAt(x: number, into: Float64Array, offset = 0): void {
  const y = 1 - x;
  into[offset] = y * y * y / 6;
  into[offset + 1] = (3 * x * x * x - 6 * x * x + 4) / 6;
  into[offset + 2] = (3 * y * y * y - 6 * y * y + 4) / 6;
  into[offset + 3] = x * x * x / 6;
}

/**
 * Cholesky factor of a symmetric positive matrix with three bands below the
 * diagonal, in place. Row k holds A[k][k-3], A[k][k-2], A[k][k-1], A[k][k].
 *
 * @param band 4 × size.
 * @param size Rows.
 * @returns Whether the matrix was positive.
 */
export function factorBand(band: Float64Array, size: number): boolean {
  for (let k = 0; k < size; k++) {
    if ((k & stride) === stride) checkpoint();
    const row = 4 * k;
    const r1 = row - 4, r2 = row - 8, r3 = row - 12;
    let l3 = band[row]!, l2 = band[row + 1]!, l1 = band[row + 2]!;
    if (k >= 3) l3 /= band[r3 + 3]!;
    else l3 = 0;
    if (k >= 2) l2 = (l2 - l3 * band[r2 + 2]!) / band[r2 + 3]!;
    else l2 = 0;
    if (k >= 1) {
      l1 = (l1 - l2 * band[r1 + 2]! - l3 * band[r1 + 1]!) / band[r1 + 3]!;
    } else l1 = 0;
    const square = band[row + 3]! - l1 * l1 - l2 * l2 - l3 * l3;
    if (!(square > 0)) return false;
    band[row] = l3;
    band[row + 1] = l2;
    band[row + 2] = l1;
    band[row + 3] = Math.sqrt(square);
  }
  return true;
}

/** Solves with the factor of {@linkcode factorBand}, in place. */
export function solveBand(
  factor: Float64Array,
  size: number,
  values: Float64Array,
): void {
  for (let k = 0; k < size; k++) {
    const row = 4 * k;
    let sum = values[k]!;
    if (k >= 1) sum -= factor[row + 2]! * values[k - 1]!;
    if (k >= 2) sum -= factor[row + 1]! * values[k - 2]!;
    if (k >= 3) sum -= factor[row]! * values[k - 3]!;
    values[k] = sum / factor[row + 3]!;
  }
  for (let k = size - 1; k >= 0; k--) {
    let sum = values[k]!;
    if (k + 1 < size) sum -= factor[4 * (k + 1) + 2]! * values[k + 1]!;
    if (k + 2 < size) sum -= factor[4 * (k + 2) + 1]! * values[k + 2]!;
    if (k + 3 < size) sum -= factor[4 * (k + 3)]! * values[k + 3]!;
    values[k] = sum / factor[4 * k + 3]!;
  }
}

/**
 * The bands of the inverse, from the factor of {@linkcode factorBand}
 * (Takahashi's recursion: only the entries inside the bands are needed).
 *
 * @param factor 4 × size.
 * @param size Rows.
 * @returns 4 × size; row k holds Z[k][k], Z[k][k+1], Z[k][k+2], Z[k][k+3].
 */
export function inverseBand(factor: Float64Array, size: number): Float64Array {
  const z = new Float64Array(4 * size);
  const entry = (a: number, b: number): number =>
    a <= b ? z[4 * a + b - a]! : z[4 * b + a - b]!;
  for (let k = size - 1; k >= 0; k--) {
    if ((k & stride) === stride) checkpoint();
    const diagonal = factor[4 * k + 3]!;
    // Column k of the factor below the diagonal, over the diagonal.
    const c1 = k + 1 < size ? factor[4 * (k + 1) + 2]! / diagonal : 0;
    const c2 = k + 2 < size ? factor[4 * (k + 2) + 1]! / diagonal : 0;
    const c3 = k + 3 < size ? factor[4 * (k + 3)]! / diagonal : 0;
    for (let d = 3; d >= 1; d--) {
      const b = k + d;
      if (b >= size) continue;
      let sum = 0;
      if (c1 !== 0) sum -= c1 * entry(k + 1, b);
      if (c2 !== 0) sum -= c2 * entry(k + 2, b);
      if (c3 !== 0) sum -= c3 * entry(k + 3, b);
      z[4 * k + d] = sum;
    }
    let sum = 1 / (diagonal * diagonal);
    if (c1 !== 0) sum -= c1 * z[4 * k + 1]!;
    if (c2 !== 0) sum -= c2 * z[4 * k + 2]!;
    if (c3 !== 0) sum -= c3 * z[4 * k + 3]!;
    z[4 * k] = sum;
  }
  return z;
}
