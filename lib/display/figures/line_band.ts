/** What {@linkcode lineBand} needs of a fitted line. */
export interface BandedLine {
  readonly intercept: { readonly value: number };
  readonly slope: { readonly value: number };
  /** Covariances of intercept and slope, in that order. */
  readonly covariance: readonly (readonly number[])[];
}

/**
 * A fitted line as a curve, with the band in which the line lies:
 * ± t √(V₀₀ + 2 x V₀₁ + x² V₁₁).
 *
 * @param line Intercept, slope and their covariances.
 * @param xs The points' places; the curve runs a little beyond them.
 * @param t Factor for the probability of the band.
 * @returns Curve and band over the same places.
 */
export function lineBand(
  line: BandedLine,
  xs: readonly number[],
  t: number,
): {
  fitted: { x: number[]; y: number[] };
  band: { x: number[]; low: number[]; high: number[] };
} {
  const [[va = 0, cab = 0] = [], [, vb = 0] = []] = line.covariance;
  const low = Math.min(...xs);
  const high = Math.max(...xs);
  const margin = 0.03 * (high - low);
  const x = Array.from(
    { length: 41 },
    (_, k) => low - margin + (high - low + 2 * margin) * k / 40,
  );
  const y = x.map((at) => line.intercept.value + line.slope.value * at);
  const half = x.map((at) =>
    t * Math.sqrt(Math.max(0, va + 2 * at * cab + at * at * vb))
  );
  return {
    fitted: { x, y },
    band: {
      x,
      low: y.map((value, k) => value - half[k]!),
      high: y.map((value, k) => value + half[k]!),
    },
  };
}
