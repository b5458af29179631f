import { checkpoint } from "../progress/mod.ts";

/** Samples between two checkpoints, of loops that call nothing. */
const block = 1 << 17;

/** A straight line through a stroke, and what it leaves. */
export interface DriveLine {
  readonly current: Float64Array;
  /** Of Legendre polynomials of time. */
  readonly coefficients: Float64Array;
  readonly residualSum: number;
  /** Largest residual, in A. */
  readonly largest: number;
  /** Noise of the channel from sample to sample, in A. */
  readonly noise: number;
}

/** The line through the current along a stroke, in A. */
export function straightLine(y: Float64Array): DriveLine {
  const count = y.length;
  const centre = (count - 1) / 2;
  let [sum, moment, noise] = [0, 0, 0];
  // Goes on straight before the first sample.
  let before = 3 * y[0]! - 2 * y[1]!;
  let last = 2 * y[0]! - y[1]!;
  // The innermost loops call nothing: sums stay in registers.
  for (let from = 0; from < count; from += block) {
    checkpoint();
    const to = Math.min(count, from + block);
    for (let i = from; i < to; i++) {
      const value = y[i]!;
      sum += value;
      moment += (i - centre) * value;
      const bend = value - 2 * last + before;
      noise += bend * bend;
      before = last;
      last = value;
    }
  }
  const mean = sum / count;
  // Σ (i - centre)² = count (count² - 1)/12
  const slope = 12 * moment / (count * (count * count - 1));
  const current = new Float64Array(count);
  let [residualSum, largest] = [0, 0];
  for (let from = 0; from < count; from += block) {
    checkpoint();
    const to = Math.min(count, from + block);
    for (let i = from; i < to; i++) {
      const value = mean + slope * (i - centre);
      const left = Math.abs(y[i]! - value);
      residualSum += left * left;
      if (left > largest) largest = left;
      current[i] = value;
    }
  }
  return {
    current,
    coefficients: Float64Array.of(mean, slope * centre),
    residualSum,
    largest,
    noise: Math.sqrt(noise / 6 / Math.max(1, count - 2)),
  };
}
