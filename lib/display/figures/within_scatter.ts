/**
 * Values with those far outside of the others' scatter made `NaN`: a figure
 * then shows the scatter and not single samples that the fringe hardly speaks
 * of (at its maxima and minima, where the signal does not change with the
 * motion). Such a figure says so in its caption.
 *
 * @param values Values around zero.
 * @param deviations Robust standard deviations (1.4826 times the median of the
 * sizes) beyond which a value is left out.
 * @returns A copy.
 */
export function withinScatter(
  values: ArrayLike<number>,
  deviations = 8,
): Float64Array {
  const sizes = Float64Array.from(values, Math.abs)
    .filter((size) => !Number.isNaN(size)).sort();
  const median = sizes[Math.floor(sizes.length / 2)] ?? 0;
  const limit = median > 0 ? deviations * 1.4826 * median : Infinity;
  return Float64Array.from(
    values,
    (value) => Math.abs(value) <= limit ? value : NaN,
  );
}
