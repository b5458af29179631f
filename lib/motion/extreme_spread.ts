import { sortValues } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { fringeLevels, levelReach } from "./fringe_levels.ts";

/** Spread that the converter and the sampling of the peaks make (1). */
const ownSpread = 0.015;
/** Spread that noise makes, over the noise (1): simulated fringes of one height. */
const noiseSpread = 1.6;

/** Of longer signals every fourth of so many parts is looked at … */
const longest = 1 << 20;
const partCount = 256;
/** … where these show so many fringes. */
const enough = 2000;

/**
 * By how much the height of the fringes changes along a record, as their extremes
 * show it: the span from the 5 % to the 95 % quantile over the median, where it
 * is more than noise and sampling make.
 *
 * Strong feedback has swings of two heights: below C = 1 only.
 *
 * @param signal The signal before any change of its height is undone.
 * @param scale Its amplitude and noise, in the unit of the signal.
 * @returns The spread (1); 0 where it may be chance or too few fringes are seen.
 */
export function extremeSpread(
  signal: Float64Array,
  scale: { readonly amplitude: number; readonly noise: number },
): number {
  const { amplitude, noise } = scale;
  if (!(amplitude > 2 * noise)) return 0;
  const some = signal.length > longest
    ? heightsOf(partsOf(signal), scale)
    : new Float64Array(0);
  const heights = some.length < enough ? heightsOf([signal], scale) : some;
  if (heights.length < 2 * levelReach) return 0;
  sortValues(heights);
  const at = (part: number) =>
    heights[Math.floor(part * (heights.length - 1))]!;
  const spread = (at(0.95) - at(0.05)) / at(0.5);
  return spread > ownSpread + noiseSpread * noise / amplitude ? spread : 0;
}

function partsOf(signal: Float64Array): Float64Array[] {
  const length = Math.floor(signal.length / partCount);
  return Array.from({ length: partCount / 4 }, (_, k) => {
    const first = (4 * k + 1) * length;
    return signal.subarray(first, first + length);
  });
}

/** Heights of the fringes in parts of a signal, in its unit. */
function heightsOf(
  parts: readonly Float64Array[],
  scale: { readonly amplitude: number; readonly noise: number },
): Float64Array {
  const heights: number[] = [];
  for (const part of parts) {
    checkpoint();
    const { upper, lower } = fringeLevels(part, scale);
    // At both ends there are fewer neighbours.
    for (let k = levelReach; k < upper.length - levelReach; k++) {
      heights.push(upper[k]! - lower[k]!);
    }
  }
  return Float64Array.from(heights);
}
