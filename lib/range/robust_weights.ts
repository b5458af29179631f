/**
 * Standard deviation of residuals from their median size, 1.4826 |r|, which a few
 * wild ones do not change.
 *
 * @param residuals The residuals.
 * @param weight Those of weight 0 do not count.
 * @returns In the unit of the residuals; `NaN` where none counts.
 */
export function robustDeviation(
  residuals: Float64Array,
  weight: Float64Array,
): number {
  const sizes = new Float64Array(residuals.length);
  let count = 0;
  for (let i = 0; i < residuals.length; i++) {
    if (weight[i]! > 0) sizes[count++] = Math.abs(residuals[i]!);
  }
  return 1.4826 * nthSmallest(sizes.subarray(0, count), count >> 1);
}

/**
 * The value that would stand at a place were the values sorted (Hoare 1961).
 *
 * @param values The values; their order changes: what is smaller stands before
 * the place afterwards, what is larger behind.
 * @param place From 0.
 * @returns `NaN` where there is no such place.
 */
export function nthSmallest(values: Float64Array, place: number): number {
  let low = 0;
  let high = values.length - 1;
  if (!(place >= 0 && place <= high)) return NaN;
  while (low < high) {
    const pivot = values[(low + high) >> 1]!;
    let i = low;
    let j = high;
    while (i <= j) {
      while (values[i]! < pivot) i++;
      while (values[j]! > pivot) j--;
      if (i <= j) {
        const held = values[i]!;
        values[i++] = values[j]!;
        values[j--] = held;
      }
    }
    if (place <= j) high = j;
    else if (place >= i) low = i;
    else break;
  }
  return values[place]!;
}

/**
 * Weights of Huber 1964: as given up to a limit, and beyond it falling as the
 * limit over the residual.
 *
 * @param residuals The residuals.
 * @param weight Their weights.
 * @param limit In the unit of the residuals.
 * @returns One weight per residual.
 */
export function huberWeights(
  residuals: Float64Array,
  weight: Float64Array,
  limit: number,
): Float64Array {
  const out = new Float64Array(residuals.length);
  for (let i = 0; i < out.length; i++) {
    const size = Math.abs(residuals[i]!);
    out[i] = size > limit ? weight[i]! * limit / size : weight[i]!;
  }
  return out;
}
