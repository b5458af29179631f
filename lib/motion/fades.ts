import { copyOf } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { fringeLevels, levelReach } from "./fringe_levels.ts";
import { signalScale } from "./signal_scale.ts";

/** A signal whose fringes have one height. */
export interface FlattenedSignal {
  /** The signal; `NaN` where the fringes sink into the noise. */
  readonly signal: Float64Array;
  /** Height of the fringes over the largest (1). */
  readonly envelope: Float64Array;
  /** Sample indices of `envelope`. */
  readonly places: Int32Array;
  /** Smallest height over the largest (1). */
  readonly least: number;
  /** Samples left out. */
  readonly fadedSamples: number;
}

/** Heights over the noise below which a fringe is given up. */
const leastHeight = 3;
/** A change of height smaller than this is left to the fit. */
const leastChange = 0.72;

/**
 * Evens out the height of the fringes through fades. The height is half of the
 * largest swing among neighbouring extremes.
 *
 * @param signal The signal; `NaN` is passed over.
 * @returns The flattened signal, or `null` if the height hardly changes.
 */
export function flattenFades(signal: Float64Array): FlattenedSignal | null {
  const { noise, amplitude, middle } = signalScale(signal);
  if (!(amplitude > leastHeight * noise)) return null;
  const { index, upper, lower } = fringeLevels(signal, { amplitude, noise });
  const count = index.length;
  if (count < 24) return null;
  const height = smoothed(
    upper.map((high, k) => (high - lower[k]!) / 2),
    levelReach,
  );
  const centre = smoothed(
    upper.map((high, k) => (high + lower[k]!) / 2),
    levelReach,
  );
  const largest = Math.max(...sampled(height));
  let least = Math.min(...sampled(height)) / largest;
  if (least > leastChange) return null;
  const result = copyOf(signal, "look for fades");
  let fadedSamples = 0;
  let k = 0;
  for (let i = 0; i < signal.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, "look for fades");
    while (k + 1 < count && index[k + 1]! <= i) k++;
    const next = Math.min(count - 1, k + 1);
    const span = index[next]! - index[k]!;
    const part = span > 0
      ? Math.min(1, Math.max(0, (i - index[k]!) / span))
      : 0;
    const half = height[k]! + part * (height[next]! - height[k]!);
    const mid = centre[k]! + part * (centre[next]! - centre[k]!);
    if (half < leastHeight * noise) {
      result[i] = NaN;
      fadedSamples++;
    } else result[i] = middle + (signal[i]! - mid) * largest / half;
  }
  if (fadedSamples > 0) least = Math.min(least, leastHeight * noise / largest);
  return {
    signal: result,
    envelope: height.map((value) => value / largest),
    places: index,
    least,
    fadedSamples,
  };
}

function smoothed(values: Float64Array, reach: number): Float64Array {
  return values.map((_, k) => {
    if (k % 4096 === 0) checkpoint(NaN, "look for fades");
    let sum = 0;
    let weights = 0;
    for (
      let m = Math.max(0, k - reach);
      m <= Math.min(values.length - 1, k + reach);
      m++
    ) {
      const weight = reach + 1 - Math.abs(m - k);
      sum += weight * values[m]!;
      weights += weight;
    }
    return sum / weights;
  });
}

/** At most a few thousand of the values, for `Math.max`. */
function sampled(values: Float64Array): number[] {
  const step = Math.max(1, Math.floor(values.length / 5000));
  const some: number[] = [];
  for (let k = 0; k < values.length; k += step) some.push(values[k]!);
  return some;
}
