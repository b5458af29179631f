import { sortValues } from "../../order/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";

/** Samples per block of the noise estimate. */
const blockLength = 64;

/**
 * White noise of a signal: the smallest of three estimates, which are each
 * raised by signals that the others leave alone. {@linkcode roughness} is for
 * slow signals, {@linkcode spectralFloor} for narrow ones, however fast,
 * {@linkcode calmRoughness} for the jumps of saw-teeth.
 *
 * @param samples The samples.
 * @returns Standard deviation in the unit of the samples; `NaN` for fewer than
 * 16 samples.
 */
export function estimateNoise(samples: Samples): number {
  const rough = roughness(samples);
  const floor = spectralFloor(samples);
  const least = floor < rough ? floor : rough;
  const calm = calmRoughness(samples);
  return calm < least ? calm : least;
}

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
function roughness(samples: Samples): number {
  const count = samples.length;
  const length = Math.min(blockLength, count - 4);
  if (length < 12) return NaN;
  const blocks = Math.floor((count - 4) / length);
  const stride = Math.max(1, Math.floor(blocks / 8192));
  const variances: number[] = [];
  for (let block = 0; block < blocks; block += stride) {
    if (block % (1024 * stride) === 0) checkpoint(NaN, "estimate noise");
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
  if (middle === undefined) return NaN;
  // Fourth differences are correlated, so a block has length / 2.63 degrees of
  // freedom; the median of a chi-square of n is n (1 - 2 / (9 n))^3.
  const freedom = length / 2.63;
  const bias = (1 - 2 / (9 * freedom)) ** 3;
  return Math.sqrt(middle / bias);
}

/** Part of the fourth differences that {@linkcode calmRoughness} keeps. */
const calmPart = 0.7;
/** E[x²] of the standard normal below its quantile of |x| for that part. */
const calmSquare = 0.3095613;
/** Most fourth differences that are sorted. */
const mostDifferences = 2 ** 17;

/**
 * White noise from the smallest seven tenths of all fourth differences: the jump
 * of a saw-tooth spoils five differences and no more, so that noise shows
 * between jumps as close as 20 samples. For normal noise the mean square of
 * these is 0.3096 of that of all.
 *
 * Differences of exactly zero come from samples at a rail and are left out. Where
 * they are many, the steps of the converter are larger than the noise, and there
 * is nothing to see here.
 */
function calmRoughness(samples: Samples): number {
  const count = samples.length - 4;
  if (count < 12) return NaN;
  const stride = Math.max(1, Math.ceil(count / mostDifferences));
  const squares = new Float64Array(Math.ceil(count / stride));
  let used = 0;
  let zeros = 0;
  for (let index = 0; index < count; index += stride) {
    const middle = samples[index + 2]!;
    const d = samples[index]! - 4 * samples[index + 1]! + 6 * middle -
      4 * samples[index + 3]! + samples[index + 4]!;
    if (d - d !== 0) continue;
    // Zero but for the rounding of the sum.
    if (Math.abs(d) <= 1e-14 * Math.abs(16 * middle)) zeros++;
    else squares[used++] = d * d;
  }
  if (used < 12 || zeros > used / 4) return NaN;
  checkpoint(NaN, "estimate noise");
  const sorted = sortValues(squares.subarray(0, used));
  const kept = Math.floor(calmPart * used);
  let sum = 0;
  for (let index = 0; index < kept; index++) sum += sorted[index]!;
  return Math.sqrt(sum / kept / calmSquare / 70);
}

/** Bins of a block's spectrum, without the lowest and highest. */
const firstBin = 3;
const lastBin = blockLength / 2 - 1;

/**
 * White noise from the median over frequency of the mean power spectrum of short
 * blocks (Hann window), as long as signals fill less than half of the band. For
 * white noise of variance s², E|X|² = s² Σ w².
 */
function spectralFloor(samples: Samples): number {
  const blocks = Math.floor(samples.length / blockLength);
  if (blocks < 32) return NaN;
  const stride = Math.max(1, Math.floor(blocks / 1024));
  const tables = cosines();
  const sums = new Float64Array(lastBin + 1);
  const windowed = new Float64Array(blockLength);
  let used = 0;
  for (let block = 0; block < blocks; block += stride) {
    if (block % (128 * stride) === 0) checkpoint(NaN, "estimate noise");
    const start = block * blockLength;
    let mean = 0;
    for (let n = 0; n < blockLength; n++) mean += samples[start + n]!;
    mean /= blockLength;
    if (mean - mean !== 0) continue;
    used++;
    for (let n = 0; n < blockLength; n++) {
      windowed[n] = (samples[start + n]! - mean) * tables.window[n]!;
    }
    for (let bin = firstBin; bin <= lastBin; bin++) {
      let re = 0;
      let im = 0;
      for (let n = 0, k = 0; n < blockLength; n++, k += bin) {
        const phase = k % blockLength;
        re += windowed[n]! * tables.cosine[phase]!;
        im += windowed[n]! * tables.sine[phase]!;
      }
      sums[bin]! += re * re + im * im;
    }
  }
  if (used < 16) return NaN;
  const powers = Array.from(sums.subarray(firstBin)).sort((a, b) => a - b);
  const squares = tables.window.reduce((sum, w) => sum + w * w, 0);
  return Math.sqrt(powers[powers.length >> 1]! / used / squares);
}

function cosines() {
  const at = (f: (n: number) => number) =>
    Float64Array.from(
      { length: blockLength },
      (_, n) => f(2 * Math.PI * n / blockLength),
    );
  return {
    window: at((x) => 0.5 - 0.5 * Math.cos(x)),
    cosine: at(Math.cos),
    sine: at(Math.sin),
  };
}
