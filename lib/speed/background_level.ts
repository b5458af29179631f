/**
 * Level of the smooth background under the lines of a spectrum: the running
 * median over a band from k / 1.6 to 1.6 k bins (at least ± 16 bins), corrected
 * for the median of averaged power lying below its mean.
 *
 * @param density Spectral density.
 * @param averages How many independent spectra it is the mean of (1).
 * @returns The level at each bin, in the unit of the density.
 */
export function backgroundLevel(
  density: Float64Array,
  averages: number,
): Float64Array {
  const bins = density.length;
  const knots: number[] = [];
  for (let k = 1; k < bins; k = Math.max(k + 1, Math.ceil(k * 1.1))) {
    knots.push(k);
  }
  if (knots.at(-1) !== bins - 1) knots.push(bins - 1);
  // Wilson and Hilferty 1931 (from memory): median of χ²/ν is about (1 − 2/(9 ν))³.
  const bias = (1 - 1 / (9 * averages)) ** 3;
  const levels = knots.map((k) => {
    const low = Math.max(1, Math.min(k - 16, Math.floor(k / 1.6)));
    const high = Math.min(bins - 1, Math.max(k + 16, Math.ceil(k * 1.6)));
    const step = Math.max(1, Math.floor((high - low + 1) / 256));
    const slice = new Float64Array(Math.floor((high - low) / step) + 1);
    for (let j = 0; j < slice.length; j++) slice[j] = density[low + j * step]!;
    slice.sort();
    return slice[slice.length >> 1]! / bias;
  });
  const out = new Float64Array(bins);
  out[0] = levels[0] ?? density[0]!;
  for (let j = 0; j + 1 < knots.length; j++) {
    const from = knots[j]!, to = knots[j + 1]!;
    for (let k = from; k <= to; k++) {
      const t = (k - from) / (to - from);
      out[k] = levels[j]! + t * (levels[j + 1]! - levels[j]!);
    }
  }
  if (knots.length === 1) out[knots[0]!] = levels[0]!;
  return out;
}
