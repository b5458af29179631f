import { checkpoint } from "../progress/mod.ts";
import { realFourierTransform, windowValues } from "../signal/mod.ts";

/**
 * Frequency of the strongest line of a motion, by the largest bin of a Hann
 * spectrum and a parabola through its logarithm.
 *
 * @param values The motion, evenly sampled; a straight line is taken off.
 * @param samplingRate Samples per second, in Hz.
 * @param lowest Lowest frequency that counts, in Hz.
 * @returns Frequency in Hz.
 */
export function strongestLine(
  values: Float64Array,
  samplingRate: number,
  lowest = 0,
): number {
  const n = values.length;
  const window = windowValues("Hann", n);
  const slope = (values[n - 1]! - values[0]!) / Math.max(1, n - 1);
  let mean = 0;
  for (let i = 0; i < n; i++) mean += (values[i]! - slope * i) / n;
  checkpoint();
  const length = Math.max(16, 2 ** Math.ceil(Math.log2(n)) * 2);
  const { real, imaginary } = realFourierTransform(
    values.map((value, i) => window[i]! * (value - slope * i - mean)),
    { length },
  );
  const power = real.map((value, k) =>
    Math.log(value * value + imaginary[k]! ** 2 + 1e-300)
  );
  const first = Math.max(
    1,
    Math.ceil(length / n * 0.7),
    Math.ceil(lowest * length / samplingRate),
  );
  let k = first;
  for (let j = first; j < power.length - 1; j++) {
    if (power[j]! > power[k]!) k = j;
  }
  const a = power[k - 1]!, b = power[k]!, c = power[k + 1]!;
  const bend = a - 2 * b + c;
  const shift = bend < 0
    ? Math.max(-0.5, Math.min(0.5, (a - c) / 2 / bend))
    : 0;
  return (k + shift) * samplingRate / length;
}

/** Every n-th sample, with straight lines over gaps, of at most `most` samples. */
export function thinned(
  values: Float64Array,
  most: number,
): { values: Float64Array; step: number } {
  const step = Math.max(1, Math.ceil(values.length / most));
  const thin = new Float64Array(Math.floor(values.length / step));
  let last = 0;
  for (let k = 0; k < thin.length; k++) {
    const value = values[k * step]!;
    if (value === value) last = value;
    thin[k] = last;
  }
  return { values: thin, step };
}
