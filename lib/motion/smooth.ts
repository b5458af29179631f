/**
 * Running mean over `width` samples (odd), taken twice: a triangular weight
 * that keeps edges in place. The ends are mirrored.
 *
 * @param samples The signal.
 * @param width Samples of one mean; 1 copies.
 * @param result Where to write; a new array if left out.
 * @returns The smoothed signal.
 */
export function smooth(
  samples: ArrayLike<number>,
  width: number,
  result: Float64Array = new Float64Array(samples.length),
): Float64Array {
  if (width <= 1 || samples.length < 2 * width) {
    for (let i = 0; i < samples.length; i++) result[i] = samples[i]!;
    return result;
  }
  const once = samples.length <= kept.length
    ? kept
    : new Float64Array(samples.length);
  runningMean(samples, samples.length, width, once);
  runningMean(once, samples.length, width, result);
  return result;
}

/** Where the first mean of a block goes, used again and again. */
const kept = new Float64Array(1 << 16);

function runningMean(
  input: ArrayLike<number>,
  n: number,
  width: number,
  output: Float64Array,
): void {
  const half = width >> 1;
  const inverse = 1 / width;
  let sum = 0;
  for (let k = -half; k <= half; k++) sum += input[k < 0 ? -k : k]!;
  const inner = Math.max(half, n - half - 1);
  for (let i = 0; i < half; i++) {
    output[i] = sum * inverse;
    sum += input[i + half + 1]! - input[half - i]!;
  }
  for (let i = half; i < inner; i++) {
    output[i] = sum * inverse;
    sum += input[i + half + 1]! - input[i - half]!;
  }
  for (let i = inner; i < n; i++) {
    output[i] = sum * inverse;
    sum += input[2 * (n - 1) - i - half - 1]! - input[i - half]!;
  }
}
