import type { Samples } from "../capture.ts";

/** Samples per block of the noise estimate. */
const blockLength = 64;

/**
 * White noise from sample-to-sample roughness: the median over blocks of the
 * mean squared fourth difference, divided by 70 = Σ binomial(4, k)². Smooth
 * signals up to about a tenth of the sampling rate leave it alone; noise slower
 * than that is not seen.
 *
 * @param samples The samples.
 * @returns Standard deviation in the unit of the samples and the number of
 * blocks; `NaN` for fewer than 16 samples.
 */
export function estimateNoise(
  samples: Samples,
): { standardDeviation: number; blockCount: number } {
  const count = samples.length;
  const length = Math.min(blockLength, count - 4);
  if (length < 12) return { standardDeviation: NaN, blockCount: 0 };
  const blocks = Math.floor((count - 4) / length);
  const stride = Math.max(1, Math.floor(blocks / 8192));
  const variances: number[] = [];
  for (let block = 0; block < blocks; block += stride) {
    const start = block * length;
    let sum = 0;
    for (let index = start; index < start + length; index++) {
      const d = samples[index]! - 4 * samples[index + 1]! +
        6 * samples[index + 2]! - 4 * samples[index + 3]! +
        samples[index + 4]!;
      sum += d * d;
    }
    if (sum - sum === 0) variances.push(sum / (70 * length));
  }
  variances.sort((a, b) => a - b);
  const middle = variances[variances.length >> 1];
  if (middle === undefined) return { standardDeviation: NaN, blockCount: 0 };
  // Fourth differences are correlated, so a block has length / 2.63 degrees of
  // freedom; the median of a chi-square of n is n (1 - 2 / (9 n))^3.
  const freedom = length / 2.63;
  const bias = (1 - 2 / (9 * freedom)) ** 3;
  return {
    standardDeviation: Math.sqrt(middle / bias),
    blockCount: variances.length,
  };
}
