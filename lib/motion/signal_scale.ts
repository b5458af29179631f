import type { Samples } from "../capture/mod.ts";

/** Size of a fringe signal and of its noise. */
export interface SignalScale {
  /** Middle between the lowest and the highest level, in the signal's unit. */
  readonly middle: number;
  /** Half of the peak-to-peak value, in the signal's unit. */
  readonly amplitude: number;
  /** White noise, rms, in the signal's unit. */
  readonly noise: number;
  /** Finite samples looked at. */
  readonly sampleCount: number;
}

const mostSamples = 1 << 16;
const binomial = [1, -4, 6, -4, 1] as const;

/**
 * Estimates middle, amplitude and noise of a fringe signal.
 *
 * The levels are the 0.5 % and 99.5 % quantiles with the noise taken off. The
 * noise is the median absolute fourth difference over its gain √70 for white
 * noise, so that the fringes themselves hardly count.
 *
 * @param samples The signal; `NaN` is left out.
 * @returns Middle, amplitude, noise.
 */
export function signalScale(samples: Samples): SignalScale {
  const n = samples.length;
  const step = Math.max(1, Math.floor(n / mostSamples));
  const levels: number[] = [];
  for (let i = 0; i < n; i += step) {
    const value = samples[i]!;
    if (Number.isFinite(value)) levels.push(value);
  }
  if (levels.length === 0) {
    return { middle: NaN, amplitude: NaN, noise: NaN, sampleCount: 0 };
  }
  const differences: number[] = [];
  for (let i = 4; i < n; i += step) {
    let sum = 0;
    for (let k = 0; k < 5; k++) sum += binomial[k]! * samples[i - k]!;
    if (Number.isFinite(sum)) differences.push(Math.abs(sum));
  }
  const noise = differences.length === 0
    ? 0
    : quantile(differences, 0.5) / 0.6744897501960817 / Math.sqrt(70);
  const low = quantile(levels, 0.005);
  const high = quantile(levels, 0.995);
  return {
    middle: (low + high) / 2,
    // The quantiles of a full fringe lie some noise outside of its levels.
    amplitude: Math.max((high - low) / 2 - noise, 0),
    noise,
    sampleCount: levels.length,
  };
}

/** Quantile by sorting; sorts `values` in place. */
export function quantile(values: number[], fraction: number): number {
  const sorted = Float64Array.from(values).sort();
  const place = fraction * (sorted.length - 1);
  const k = Math.floor(place);
  const part = place - k;
  return sorted[k]! * (1 - part) + (sorted[k + 1] ?? sorted[k]!) * part;
}
