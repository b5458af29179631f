/** Root mean square. */
export function rms(values: readonly number[]): number {
  return Math.sqrt(values.reduce((sum, v) => sum + v * v, 0) / values.length);
}

/** Share of values that pass, 0 to 1. */
export function share<T>(
  values: readonly T[],
  test: (value: T) => boolean,
): number {
  return values.filter(test).length / values.length;
}

/** Middle value of the sizes, as the rms of a normal distribution. */
export function robustRms(values: readonly number[]): number {
  const sorted = values.map(Math.abs).sort((a, b) => a - b);
  return (sorted[sorted.length >> 1] ?? NaN) / 0.6745;
}

/**
 * Cramér–Rao bound of the steps on a ramp for a cosine in white noise: the
 * variance of a frequency, Rife & Boorstyn 1974, times the record's length:
 * var(N) = 12 / ((2π)² n SNR), SNR as a ratio of powers, over the part of the
 * ramp that is used.
 */
export function boundOfSteps(
  samples: number,
  signalToNoiseRatio: number,
  part: number,
): number {
  const ratio = 10 ** (signalToNoiseRatio / 10);
  return Math.sqrt(12 / ((2 * Math.PI) ** 2 * samples * ratio)) / part;
}
