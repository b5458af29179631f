import type { PhaseSystem } from "./phase_system.ts";

/** What the samples between two knots say, sample by sample. */
export interface IntervalRows {
  /** Weight (1); 0 where a sample says nothing. */
  readonly weight: Float64Array;
  /** dy/dφ0 (1/rad). */
  readonly slope: Float64Array;
  /** Right side of the sample's equation (1). */
  readonly value: Float64Array;
  /** sin φF (1). */
  readonly sine: Float64Array;
  /** cos φF (1). */
  readonly cosine: Float64Array;
}

/** Rows of so many samples. */
export function makeRows(count: number): IntervalRows {
  const [weight, slope, value, sine, cosine] = Array.from(
    { length: 5 },
    () => new Float64Array(count),
  ) as [
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
    Float64Array,
  ];
  return { weight, slope, value, sine, cosine };
}

/**
 * Adds the spline's part of the rows of one interval.
 *
 * @param first Where the interval starts in the rows.
 */
export function addPhaseRows(
  { band, right }: PhaseSystem,
  k: number,
  count: number,
  basis: Float64Array,
  weight: Float64Array,
  slope: Float64Array,
  value: Float64Array,
  first = 0,
): void {
  let a00 = 0, a01 = 0, a02 = 0, a03 = 0, a11 = 0, a12 = 0, a13 = 0;
  let a22 = 0, a23 = 0, a33 = 0, v0 = 0, v1 = 0, v2 = 0, v3 = 0;
  for (let r = 0; r < count; r++) {
    const i = first + r;
    const w = weight[i]!;
    if (w === 0) continue;
    const g = slope[i]!;
    const o = 4 * r;
    const b0 = basis[o]!, b1 = basis[o + 1]!;
    const b2 = basis[o + 2]!, b3 = basis[o + 3]!;
    const wg = w * g;
    const wgg = wg * g;
    const w0 = wgg * b0, w1 = wgg * b1, w2 = wgg * b2, wd = wg * value[i]!;
    a00 += w0 * b0;
    a01 += w0 * b1;
    a02 += w0 * b2;
    a03 += w0 * b3;
    a11 += w1 * b1;
    a12 += w1 * b2;
    a13 += w1 * b3;
    a22 += w2 * b2;
    a23 += w2 * b3;
    a33 += wgg * b3 * b3;
    v0 += wd * b0;
    v1 += wd * b1;
    v2 += wd * b2;
    v3 += wd * b3;
  }
  const o = 4 * k;
  band[o + 3]! += a00;
  band[o + 6]! += a01;
  band[o + 9]! += a02;
  band[o + 12]! += a03;
  band[o + 7]! += a11;
  band[o + 10]! += a12;
  band[o + 13]! += a13;
  band[o + 11]! += a22;
  band[o + 14]! += a23;
  band[o + 15]! += a33;
  addFour(right, k, v0, v1, v2, v3);
}

/** Adds what the rows of one interval say of p, q, middle and amplitude. */
export function addBorderRows(
  { border, corner, cornerRight, size, columns }: PhaseSystem,
  k: number,
  count: number,
  basis: Float64Array,
  { weight, slope, value, sine, cosine }: IntervalRows,
): void {
  let f00 = 0, f01 = 0, f02 = 0, f03 = 0, f10 = 0, f11 = 0, f12 = 0, f13 = 0;
  let f20 = 0, f21 = 0, f22 = 0, f23 = 0, f30 = 0, f31 = 0, f32 = 0, f33 = 0;
  let e00 = 0, e01 = 0, e02 = 0, e03 = 0, e11 = 0, e12 = 0, e13 = 0;
  let e22 = 0, e23 = 0, e33 = 0, r0 = 0, r1 = 0, r2 = 0, r3 = 0;
  for (let r = 0; r < count; r++) {
    const w = weight[r]!;
    if (w === 0) continue;
    const g = slope[r]!;
    const c = cosine[r]!;
    const o = 4 * r;
    const b0 = basis[o]!, b1 = basis[o + 1]!;
    const b2 = basis[o + 2]!, b3 = basis[o + 3]!;
    const gs = -g * sine[r]!, gc = -g * c;
    const ws = w * gs, wc = w * gc, wy = w * c;
    const g0 = g * ws, g1 = g * wc, g2 = g * w, g3 = g * wy;
    f00 += g0 * b0;
    f01 += g0 * b1;
    f02 += g0 * b2;
    f03 += g0 * b3;
    f10 += g1 * b0;
    f11 += g1 * b1;
    f12 += g1 * b2;
    f13 += g1 * b3;
    f20 += g2 * b0;
    f21 += g2 * b1;
    f22 += g2 * b2;
    f23 += g2 * b3;
    f30 += g3 * b0;
    f31 += g3 * b1;
    f32 += g3 * b2;
    f33 += g3 * b3;
    e00 += ws * gs;
    e01 += ws * gc;
    e02 += ws;
    e03 += ws * c;
    e11 += wc * gc;
    e12 += wc;
    e13 += wc * c;
    e22 += w;
    e23 += wy;
    e33 += wy * c;
    const d = value[r]!;
    r0 += ws * d;
    r1 += wc * d;
    r2 += w * d;
    r3 += wy * d;
  }
  addFour(border, k, f00, f01, f02, f03);
  addFour(border, size + k, f10, f11, f12, f13);
  addFour(border, 2 * size + k, f20, f21, f22, f23);
  addFour(border, 3 * size + k, f30, f31, f32, f33);
  addFour(corner, 0, e00, e01, e02, e03);
  addFour(corner, columns, 0, e11, e12, e13);
  addFour(corner, 2 * columns, 0, 0, e22, e23);
  addFour(corner, 3 * columns, 0, 0, 0, e33);
  addFour(cornerRight, 0, r0, r1, r2, r3);
}

/** Fills in the other half of what the rows have added to the corner. */
export function mirrorCorner({ corner, columns }: PhaseSystem): void {
  for (let a = 1; a < 4; a++) {
    for (let b = 0; b < a; b++) {
      corner[columns * a + b] = corner[columns * b + a]!;
    }
  }
  for (let a = 4; a < columns; a++) {
    for (let b = 0; b < 4; b++) {
      corner[columns * b + a] = corner[columns * a + b]!;
    }
  }
}

/** What the rows of one interval say of the height besides. */
export interface HeightRows {
  /** Change of the signal with h (1). */
  readonly slope: Float64Array;
  /** Basis of the height's spline, sample by sample of one of its pieces. */
  readonly basis: Float64Array;
}

/**
 * Adds what the rows of one interval say of the height's spline.
 *
 * @param k Interval of φ0.
 * @param from First row.
 * @param to Row after the last.
 * @param basis Basis of φ0.
 * @param rows The rows.
 * @param height What they say of the height.
 * @param m Piece of the height's spline in which they lie.
 * @param before Samples of that piece before row 0.
 */
export function addHeightRows(
  { border, corner, cornerRight, size, columns }: PhaseSystem,
  k: number,
  from: number,
  to: number,
  basis: Float64Array,
  { weight, slope, value, sine, cosine }: IntervalRows,
  height: HeightRows,
  m: number,
  before: number,
): void {
  for (let a = 0; a < 4; a++) {
    let f0 = 0, f1 = 0, f2 = 0, f3 = 0, e0 = 0, e1 = 0, e2 = 0, e3 = 0;
    let h0 = 0, h1 = 0, h2 = 0, h3 = 0, v = 0;
    for (let r = from; r < to; r++) {
      const w = weight[r]!;
      if (w === 0) continue;
      const o = 4 * r;
      const own = 4 * (r + before);
      const part = w * height.slope[r]!;
      const change = part * height.basis[own + a]!;
      const g = slope[r]!;
      const c = cosine[r]!;
      const along = change * g;
      f0 += along * basis[o]!;
      f1 += along * basis[o + 1]!;
      f2 += along * basis[o + 2]!;
      f3 += along * basis[o + 3]!;
      e0 -= along * sine[r]!;
      e1 -= along * c;
      e2 += change;
      e3 += change * c;
      const each = change * height.slope[r]!;
      h0 += each * height.basis[own]!;
      h1 += each * height.basis[own + 1]!;
      h2 += each * height.basis[own + 2]!;
      h3 += each * height.basis[own + 3]!;
      v += change * value[r]!;
    }
    const column = 4 + m + a;
    addFour(border, column * size + k, f0, f1, f2, f3);
    addFour(corner, columns * column, e0, e1, e2, e3);
    addFour(corner, columns * column + 4 + m, h0, h1, h2, h3);
    cornerRight[column]! += v;
  }
}

function addFour(
  into: Float64Array,
  at: number,
  a: number,
  b: number,
  c: number,
  d: number,
): void {
  into[at]! += a;
  into[at + 1]! += b;
  into[at + 2]! += c;
  into[at + 3]! += d;
}
