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
  runningMean(samples, width, result);
  runningMean(result, width, result);
  return result;
}

function runningMean(
  input: ArrayLike<number>,
  width: number,
  output: Float64Array,
): void {
  const n = input.length;
  const half = width >> 1;
  const ring = new Float64Array(width);
  let sum = 0;
  for (let k = -half; k <= half; k++) {
    const value = input[k < 0 ? -k : k]!;
    ring[k + half] = value;
    sum += value;
  }
  let place = 0;
  for (let i = 0; i < n; i++) {
    let ahead = i + half + 1;
    if (ahead >= n) ahead = 2 * (n - 1) - ahead;
    const next = input[ahead]!;
    output[i] = sum / width;
    sum += next - ring[place]!;
    ring[place] = next;
    if (++place === width) place = 0;
  }
}
