import { findExtremes } from "./extremes.ts";
import { signalScale } from "./signal_scale.ts";

/** Extremes on either side whose outermost levels make the height of a fringe. */
const reach = 6;
/** Spread that the converter and the sampling of the peaks make (1). */
const ownSpread = 0.015;
/** Spread that noise makes, over the noise (1): simulated fringes of one height. */
const noiseSpread = 1.6;

/**
 * By how much the height of the fringes changes along a record, as their extremes
 * show it: the span from the 5 % to the 95 % quantile over the median, where it
 * is more than noise and sampling make. The height at an extreme is that between
 * the outermost levels of its neighbours, so that turning points do not count.
 *
 * Strong feedback has swings of two heights: below C = 1 only.
 *
 * @param signal The signal before any change of its height is undone.
 * @returns The spread (1); 0 where it may be chance or too few fringes are seen.
 */
export function extremeSpread(signal: Float64Array): number {
  const { noise, amplitude } = signalScale(signal);
  if (!(amplitude > 2 * noise)) return 0;
  const { value } = findExtremes(
    signal,
    Math.max(0.12 * amplitude, 6 * noise),
  );
  const heights: number[] = [];
  for (let k = reach; k < value.length - reach; k++) {
    let high = -Infinity;
    let low = Infinity;
    for (let m = k - reach; m <= k + reach; m++) {
      high = Math.max(high, value[m]!);
      low = Math.min(low, value[m]!);
    }
    heights.push(high - low);
  }
  if (heights.length < 2 * reach) return 0;
  heights.sort((a, b) => a - b);
  const at = (part: number) =>
    heights[Math.floor(part * (heights.length - 1))]!;
  const spread = (at(0.95) - at(0.05)) / at(0.5);
  return spread > ownSpread + noiseSpread * noise / amplitude ? spread : 0;
}
