/** Value, slope and curvature of a curve at one place. */
export interface LocalFit {
  /** Smoothed value. */
  readonly value: number;
  /** First derivative. */
  readonly slope: number;
  /** Second derivative. */
  readonly curvature: number;
  /** Standard deviation of the slope per standard deviation of a point. */
  readonly slopeSpread: number;
  /** Weighted sum of squared residuals per point, unbiased. */
  readonly variance: number;
}

/**
 * Fits a parabola to the points within `halfWidth` of `at`, the nearer the more
 * weight (tricube: Cleveland 1979). `NaN` where there are fewer than four.
 */
export function localFit(
  x: Float64Array,
  y: Float64Array,
  at: number,
  halfWidth: number,
): LocalFit {
  let first = lowerBound(x, at - halfWidth);
  const s = new Float64Array(5);
  const t = new Float64Array(3);
  const q = new Float64Array(5);
  const start = first;
  let count = 0;
  for (; first < x.length && x[first]! <= at + halfWidth; first++) {
    const u = (x[first]! - at) / halfWidth;
    const weight = (1 - Math.abs(u) ** 3) ** 3;
    if (weight <= 0) continue;
    count++;
    let power = 1;
    for (let k = 0; k < 5; k++) {
      s[k]! += weight * power;
      q[k]! += weight * weight * power;
      if (k < 3) t[k]! += weight * power * y[first]!;
      power *= u;
    }
  }
  const inverse = count < 4 ? null : invert(s);
  if (inverse === null) {
    return {
      value: NaN,
      slope: NaN,
      curvature: NaN,
      slopeSpread: NaN,
      variance: NaN,
    };
  }
  const b = inverse.map((row) =>
    row[0]! * t[0]! + row[1]! * t[1]! +
    row[2]! * t[2]!
  ) as [number, number, number];
  let residuals = 0;
  let weights = 0;
  for (let i = start; i < first; i++) {
    const u = (x[i]! - at) / halfWidth;
    const weight = (1 - Math.abs(u) ** 3) ** 3;
    if (weight <= 0) continue;
    residuals += weight * (y[i]! - b[0] - b[1] * u - b[2] * u * u) ** 2;
    weights += weight;
  }
  let spread = 0;
  for (let j = 0; j < 3; j++) {
    for (let k = 0; k < 3; k++) {
      spread += inverse[1]![j]! * q[j + k]! * inverse[1]![k]!;
    }
  }
  const lost = inverse.reduce(
    (sum, row, j) =>
      sum + row.reduce((part, value, k) => part + value * q[j + k]!, 0),
    0,
  );
  return {
    value: b[0],
    slope: b[1] / halfWidth,
    curvature: 2 * b[2] / (halfWidth * halfWidth),
    slopeSpread: Math.sqrt(spread) / halfWidth,
    variance: weights > lost ? residuals / (weights - lost) : NaN,
  };
}

/** First index whose value is not below `value`; `x` rises. */
export function lowerBound(x: Float64Array, value: number): number {
  let low = 0;
  let high = x.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (x[middle]! < value) low = middle + 1;
    else high = middle;
  }
  return low;
}

/** Inverse of the 3 × 3 matrix s[j + k]; `null` if it has none. */
function invert(s: Float64Array): number[][] | null {
  const [a, b, c, d, e] = s as unknown as [
    number,
    number,
    number,
    number,
    number,
  ];
  // | a b c |
  // | b c d |
  // | c d e |
  const m00 = c * e - d * d;
  const m01 = c * d - b * e;
  const m02 = b * d - c * c;
  const det = a * m00 + b * m01 + c * m02;
  if (!(Math.abs(det) > 1e-12 * a * c * e)) return null;
  const m11 = a * e - c * c;
  const m12 = b * c - a * d;
  const m22 = a * c - b * b;
  return [[m00, m01, m02], [m01, m11, m12], [m02, m12, m22]].map((row) =>
    row.map((value) => value / det)
  );
}

/** The middle value. */
export function median(values: readonly number[]): number {
  const sorted = values.filter((value) => !Number.isNaN(value))
    .sort((a, b) => a - b);
  const middle = sorted.length / 2;
  return sorted.length === 0
    ? NaN
    : (sorted[Math.floor(middle)]! + sorted[Math.ceil(middle) - 1]!) / 2;
}
