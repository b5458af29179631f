import type { Samples } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { select } from "../order/mod.ts";

/** Size of a fringe signal and of its noise. */
export interface SignalScale {
  /** Middle between the lowest and the highest level, in the signal's unit. */
  readonly middle: number;
  /** Half of the peak-to-peak value, in the signal's unit. */
  readonly amplitude: number;
  /** White noise, rms, in the signal's unit. */
  readonly noise: number;
}

const mostSamples = 1 << 16;

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
  const most = Math.ceil(n / step);
  const levels = new Float64Array(most);
  let count = 0;
  for (let i = 0, k = 0; i < n; i += step, k++) {
    if ((k & 0x1fff) === 0x1fff) checkpoint();
    const value = samples[i]!;
    if (value - value === 0) levels[count++] = value;
  }
  if (count === 0) {
    return { middle: NaN, amplitude: NaN, noise: NaN };
  }
  checkpoint();
  const low = quantileInPlace(levels.subarray(0, count), 0.005);
  const high = quantileInPlace(levels.subarray(0, count), 0.995);
  checkpoint();
  const differences = levels;
  let differenceCount = 0;
  for (let i = 4, k = 0; i < n; i += step, k++) {
    if ((k & 0x1fff) === 0x1fff) checkpoint();
    const sum = samples[i]! - 4 * samples[i - 1]! + 6 * samples[i - 2]! -
      4 * samples[i - 3]! + samples[i - 4]!;
    if (sum - sum === 0) differences[differenceCount++] = Math.abs(sum);
  }
  const noise = differenceCount === 0
    ? 0
    : quantileInPlace(differences.subarray(0, differenceCount), 0.5) /
      0.6744897501960817 / Math.sqrt(70);
  return {
    middle: (low + high) / 2,
    // The quantiles of a full fringe lie some noise outside of its levels.
    amplitude: Math.max((high - low) / 2 - noise, 0),
    noise,
  };
}

/** Quantile between the two values it lies between; `values` stay as they are. */
export function quantile(values: ArrayLike<number>, fraction: number): number {
  return quantileInPlace(Float64Array.from(values), fraction);
}

/** The same; changes the order of `values`, in which no `NaN` may stand. */
function quantileInPlace(values: Float64Array, fraction: number): number {
  const place = fraction * (values.length - 1);
  const k = Math.floor(place);
  const part = place - k;
  const lower = select(values, k);
  let upper = Infinity;
  for (let i = k + 1; i < values.length; i++) {
    if (values[i]! < upper) upper = values[i]!;
  }
  return lower * (1 - part) + (k + 1 < values.length ? upper : lower) * part;
}
