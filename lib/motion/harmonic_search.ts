import { checkpoint } from "../progress/mod.ts";
import { realFourierTransform, windowValues } from "../signal/mod.ts";
import { strongestLine } from "./line_search.ts";

/** Values of a spectrum in which a line is looked for. */
const longest = 1 << 16;
/** Fewest periods of a line that is told from a slow drift. */
const leastPeriods = 2.5;
/** Fewest periods of a motion of which a line may be a harmonic. */
const fewPeriods = 1.5;
/** Power of a line over the median about it. */
const clearLine = 300;
/** A line of less than this part of the largest amplitude is none. */
const leastPart = 0.02;
/** Periods of a stretch from which a phase is taken. */
const periodsPerStretch = 4;

/**
 * Frequency of the fundamental of a motion that may drift: the line with the
 * largest amplitude that stands clear of its surroundings; then, along the record,
 * the advance of its phase.
 *
 * @param x The displacement; `NaN` in gaps.
 * @param samplingRate Samples per second, in Hz.
 * @param known Frequency to start from, in Hz, or `null`.
 * @returns Frequency in Hz.
 */
export function fundamentalOf(
  x: Float64Array,
  samplingRate: number,
  known: number | null,
): number {
  const start = known ?? clearestLine(x, samplingRate);
  return refined(x, samplingRate, start);
}

/** The line in the whole record, and where it has many periods in a part of it. */
function clearestLine(x: Float64Array, samplingRate: number): number {
  const step = Math.max(1, Math.ceil(x.length / longest));
  const whole = meansOf(x, step);
  const slow = lineIn(whole, samplingRate / step);
  if (step === 1) return slow.frequency;
  const middle = (x.length - longest) >> 1;
  const part = meansOf(x.subarray(middle, middle + longest), 1);
  const fast = lineIn(part, samplingRate);
  return fast.power > slow.power ? fast.frequency : slow.frequency;
}

function lineIn(
  values: Float64Array,
  rate: number,
): { frequency: number; power: number } {
  const n = values.length;
  const length = Math.max(16, 2 ** Math.ceil(Math.log2(n)) * 2);
  const window = windowValues("Blackman-Harris", n);
  let gain = 0;
  let mean = 0;
  const slope = (values[n - 1]! - values[0]!) / Math.max(1, n - 1);
  for (let i = 0; i < n; i++) {
    gain += window[i]!;
    mean += (values[i]! - slope * i) / n;
  }
  const { real, imaginary } = realFourierTransform(
    values.map((value, i) => window[i]! * (value - slope * i - mean)),
    { length },
  );
  const power = real.map((value, k) =>
    (value * value + imaginary[k]! ** 2) * 4 / gain / gain
  );
  const perBin = length / n;
  const first = Math.ceil(leastPeriods * perBin);
  const peaks: number[] = [];
  for (let k = first; k < power.length - 1; k++) {
    if (power[k]! > power[k - 1]! && power[k]! >= power[k + 1]!) peaks.push(k);
  }
  peaks.sort((a, b) => power[b]! - power[a]!);
  const most = power.subarray(1).reduce((a, b) => Math.max(a, b), 0);
  const clear = peaks.slice(0, 64).find((k) =>
    power[k]! > leastPart ** 2 * most &&
    power[k]! > clearLine * surroundings(power, k, perBin)
  );
  const strongest = strongestLine(values, rate);
  if (clear === undefined) return { frequency: strongest, power: 0 };
  const orders = clear * rate / length / strongest;
  // The record may hold one or two periods, of which this is a harmonic.
  const isHarmonic = strongest * n < leastPeriods * rate &&
    strongest * n > fewPeriods * rate &&
    orders < 7.5 &&
    Math.abs(orders - Math.round(orders)) < 0.1;
  if (isHarmonic) return { frequency: strongest, power: 0 };
  const [a, b, c] = [clear - 1, clear, clear + 1].map((k) =>
    Math.log(power[k]! + 1e-300)
  ) as [number, number, number];
  const bend = a - 2 * b + c;
  const shift = bend < 0
    ? Math.max(-0.5, Math.min(0.5, (a - c) / 2 / bend))
    : 0;
  return { frequency: (clear + shift) * rate / length, power: power[clear]! };
}

/** Half of the line in a Blackman–Harris window, in bins of 1/duration. */
const halfLine = 5;

/** Median of the power from 2/3 to 3/2 of a bin's frequency, the line left out. */
function surroundings(power: Float64Array, k: number, perBin: number): number {
  const clear = halfLine * perBin;
  const low = Math.max(1, Math.floor(Math.min(k / 1.5, k - 3 * clear)));
  const high = Math.min(
    power.length - 1,
    Math.ceil(Math.max(1.5 * k, k + 3 * clear)),
  );
  const step = Math.max(1, Math.floor((high - low) / 512));
  const own: number[] = [];
  for (let j = low; j <= high; j += step) {
    if (Math.abs(j - k) > clear) own.push(power[j]!);
  }
  own.sort((a, b) => a - b);
  return own[own.length >> 1] ?? 0;
}

/** Means of so many neighbours; straight on over gaps. */
function meansOf(x: Float64Array, step: number): Float64Array {
  const means = new Float64Array(Math.floor(x.length / step));
  let last = x.find((value) => value === value) ?? 0;
  for (let k = 0; k < means.length; k++) {
    let sum = 0, count = 0;
    for (let i = k * step; i < (k + 1) * step; i++) {
      const value = x[i]!;
      if (value !== value) continue;
      sum += value;
      count++;
    }
    if (count > 0) last = sum / count;
    means[k] = last;
  }
  return means;
}

/** The frequency from the advance of the phase from stretch to stretch. */
function refined(
  x: Float64Array,
  samplingRate: number,
  start: number,
): number {
  let frequency = start;
  // Stretches that are longer tell the frequency better; a phase may be followed
  // from one to the next only while less than half a turn is open.
  for (const periods of [1, 4, 16]) {
    const length = Math.round(
      periods * periodsPerStretch * samplingRate / frequency,
    );
    if (3 * length > x.length) break;
    const change = phaseAdvance(x, length, frequency / samplingRate);
    if (Math.abs(change * length) > 0.5) break;
    frequency += change * samplingRate;
  }
  return frequency;
}

/** Cycles per sample by which the phase runs ahead of a frequency. */
function phaseAdvance(
  x: Float64Array,
  length: number,
  cycles: number,
): number {
  const window = windowValues("Hann", length);
  const turnReal = Math.cos(2 * Math.PI * cycles);
  const turnImaginary = Math.sin(2 * Math.PI * cycles);
  let n = 0, sk = 0, sp = 0, skk = 0, skp = 0;
  let before = NaN;
  for (let k = 0; (k + 1) * length <= x.length; k++) {
    const first = k * length;
    const angle = 2 * Math.PI * (cycles * first % 1);
    let c = Math.cos(angle), s = Math.sin(angle);
    const level = x[first]!;
    let real = 0, imaginary = 0;
    let wr = 0, wi = 0, w = 0, sum = 0;
    for (let i = 0; i < length; i++) {
      if ((i & 0xffff) === 0) checkpoint();
      const value = x[first + i]! - level;
      const weight = window[i]!;
      real += weight * value * c;
      imaginary -= weight * value * s;
      wr += weight * c;
      wi -= weight * s;
      w += weight;
      sum += weight * value;
      const next = c * turnReal - s * turnImaginary;
      s = c * turnImaginary + s * turnReal;
      c = next;
    }
    if (real !== real) continue;
    const mean = sum / w;
    const phase = Math.atan2(imaginary - mean * wi, real - mean * wr) /
      (2 * Math.PI);
    const near = before === before ? before : 0;
    const followed = phase - Math.round(phase - near);
    before = followed;
    n++;
    sk += k;
    sp += followed;
    skk += k * k;
    skp += k * followed;
  }
  const spread = n * skk - sk * sk;
  return n < 2 ? 0 : (n * skp - sk * sp) / spread / length;
}
