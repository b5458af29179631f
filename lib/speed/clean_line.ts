import {
  type BandSource,
  type Baseband,
  complexFourierTransform,
  cutBaseband,
  nextPowerOfTwo,
} from "../signal/mod.ts";

/** A line of one frequency, measured. */
export interface CleanLine {
  /** Frequency, in Hz. */
  readonly frequency: number;
  /** Standard uncertainty of the frequency, in Hz. */
  readonly standardUncertainty: number;
  /** Its degrees of freedom (1): 2 where the line is seen not to be steady. */
  readonly degreesOfFreedom: number;
  /** Amplitude A of A cos(2πft + φ), in the unit of the samples. */
  readonly amplitude: number;
  /** Phase φ at the first sample, in rad. */
  readonly phase: number;
  /** One-sided noise density beside the line, in unit²/Hz. */
  readonly noiseDensity: number;
  /**
   * Residual power close to the line over that of the noise beside it (1):
   * about 1 for a line of one steady frequency.
   */
  readonly excess: number;
  /** Standard uncertainty that the Cramér–Rao bound allows, in Hz. */
  readonly bound: number;
}

/**
 * Measures a line of one steady frequency: the maximum of the discrete-time
 * periodogram of the band around it, which is the maximum-likelihood estimate in
 * white noise (Rife and Boorstyn 1974, IEEE Trans. Inf. Theory 20, 591). Its
 * bias in white noise is zero to first order; neighbours outside the band are
 * kept out by the cut, their transients at the ends by leaving out 1 % there.
 *
 * The uncertainty is the Cramér–Rao bound, var f = 12 S / ((2π)² A² T³) with S
 * the one-sided noise density. Where the residual close to the line shows that
 * its amplitude changes within the record, as the start of a speckle grain does,
 * the phase is taken to change as much: an amplitude that drifts by κ leaves the
 * share κ²/12 of the power, and a phase that drifts by κ shifts the frequency by
 * κ / (2πT).
 *
 * @param source The transformed record.
 * @param frequency Where the line was seen, in Hz.
 * @param halfWidth How far the line may lie from there, in Hz.
 * @returns The line.
 */
export function measureCleanLine(
  source: BandSource,
  frequency: number,
  halfWidth: number,
): CleanLine {
  const duration = source.sampleCount / source.samplingRate;
  const nyquist = source.samplingRate / 2;
  const room = Math.min(0.8 * frequency, 0.98 * (nyquist - frequency));
  const band = Math.min(room, Math.max(128 / duration, 4 * halfWidth));
  const base = cutBaseband(source, frequency, band);
  const edge = Math.min(
    Math.ceil(0.01 * base.real.length),
    Math.ceil(base.samplingRate / band),
  );
  const z = {
    real: base.real.slice(edge, base.real.length - edge),
    imaginary: base.imaginary.slice(edge, base.imaginary.length - edge),
  };
  const count = z.real.length;
  const offset = strongestFrequency(z, base);
  const step = 2 * Math.PI * offset / base.samplingRate;
  const sum = correlate(z, step);
  const amplitude = Math.hypot(sum.re, sum.im) / count;
  const residual = subtractTone(z, step, sum);
  const { noise, near, closeCount } = residualPower(residual, base, offset);
  const length = count / base.samplingRate;
  // Complex noise per sample `noise`: the density is that over the rate, and a
  // one-sided density of real noise gives twice that much complex density.
  const density = noise / base.samplingRate / 2;
  const bound = Math.sqrt(
    6 * 2 * density / (length * (2 * Math.PI * amplitude * length) ** 2),
  );
  const excess = near / noise;
  // Chance alone brings the mean of some ten exponential values to 3.
  const unsteady = excess > 3;
  const share = (near - noise) * closeCount / (amplitude ** 2 * count);
  const wander = unsteady ? Math.sqrt(12 * share) / (2 * Math.PI * length) : 0;
  const start = edge / base.samplingRate;
  const found = base.centre + offset;
  return {
    frequency: found,
    standardUncertainty: Math.hypot(bound, wander),
    degreesOfFreedom: unsteady ? 2 : Infinity,
    amplitude,
    phase: Math.atan2(sum.im, sum.re) - 2 * Math.PI * offset * start,
    noiseDensity: density,
    excess,
    bound,
  };
}

interface Sequence {
  readonly real: Float64Array;
  readonly imaginary: Float64Array;
}

/** Frequency of the highest periodogram within the flat band, in Hz. */
function strongestFrequency(z: Sequence, base: Baseband): number {
  const count = z.real.length;
  const size = nextPowerOfTwo(4 * count);
  const out = complexFourierTransform(z, { length: size });
  const reach = Math.floor(base.flatHalfWidth / base.samplingRate * size);
  let best = 0;
  let highest = -1;
  for (let k = -reach; k <= reach; k++) {
    const at = (k + size) % size;
    const power = out.real[at]! ** 2 + out.imaginary[at]! ** 2;
    if (power > highest) {
      highest = power;
      best = k;
    }
  }
  const power = (bin: number) => {
    const { re, im } = correlate(z, 2 * Math.PI * bin / size);
    return re * re + im * im;
  };
  return maximise(power, best - 1, best, best + 1) / size * base.samplingRate;
}

/** Parabolic steps, then golden section, to about 1e-7 of the bracket. */
function maximise(
  f: (x: number) => number,
  low: number,
  middle: number,
  high: number,
): number {
  let a = low, b = middle, c = high;
  let fb = f(b);
  let fa = f(a), fc = f(c);
  for (let i = 0; i < 60 && c - a > 1e-7; i++) {
    const p = (b - a) * (fb - fc);
    const q = (b - c) * (fb - fa);
    let x = b - 0.5 * ((b - a) * p - (b - c) * q) / (p - q);
    const poor = i % 3 === 2;
    if (!(x > a && x < c) || poor) {
      x = c - b > b - a ? b + 0.382 * (c - b) : b - 0.382 * (b - a);
    }
    if (Math.abs(x - b) < 1e-9) x = b + (c - b > b - a ? 1e-8 : -1e-8);
    const fx = f(x);
    if (fx > fb) {
      if (x > b) [a, fa] = [b, fb];
      else [c, fc] = [b, fb];
      [b, fb] = [x, fx];
    } else if (x > b) [c, fc] = [x, fx];
    else [a, fa] = [x, fx];
  }
  return b;
}

/** Σ z exp(−i step m). */
function correlate(z: Sequence, step: number): { re: number; im: number } {
  let re = 0, im = 0;
  const cs = Math.cos(step), sn = Math.sin(step);
  let c = 1, s = 0;
  for (let m = 0; m < z.real.length; m++) {
    if (m % 256 === 0) {
      c = Math.cos(step * m);
      s = Math.sin(step * m);
    }
    re += z.real[m]! * c + z.imaginary[m]! * s;
    im += z.imaginary[m]! * c - z.real[m]! * s;
    [c, s] = [c * cs - s * sn, s * cs + c * sn];
  }
  return { re, im };
}

function subtractTone(
  z: Sequence,
  step: number,
  sum: { re: number; im: number },
): { real: Float64Array; imaginary: Float64Array } {
  const count = z.real.length;
  const ar = sum.re / count, ai = sum.im / count;
  const real = new Float64Array(count);
  const imaginary = new Float64Array(count);
  for (let m = 0; m < count; m++) {
    const c = Math.cos(step * m), s = Math.sin(step * m);
    real[m] = z.real[m]! - (ar * c - ai * s);
    imaginary[m] = z.imaginary[m]! - (ar * s + ai * c);
  }
  return { real, imaginary };
}

/** Noise per complex sample beside the line, and close to it. */
function residualPower(
  residual: Sequence,
  base: Baseband,
  offset: number,
): { noise: number; near: number; closeCount: number } {
  const count = residual.real.length;
  const out = complexFourierTransform(residual);
  const width = base.samplingRate / count;
  const all = new Float64Array(count);
  let besideCount = 0;
  const close: number[] = [];
  for (let k = 0; k < count; k++) {
    const frequency = (k < count / 2 ? k : k - count) * width;
    if (Math.abs(frequency) > base.flatHalfWidth) continue;
    const power = (out.real[k]! ** 2 + out.imaginary[k]! ** 2) / count;
    const distance = Math.abs(frequency - offset) / width;
    if (distance > 8) all[besideCount++] = power;
    else if (distance < 5) close.push(power);
  }
  const beside = all.subarray(0, besideCount);
  const closeCount = close.length;
  const near = close.reduce((sum, value) => sum + value, 0) / closeCount;
  if (beside.length < 8) return { noise: near, near, closeCount };
  return { noise: robustMean(beside), near, closeCount };
}

/**
 * Mean without outliers: exponential values above 8 times the median go. Puts
 * the values in order.
 */
function robustMean(values: Float64Array): number {
  values.sort();
  const limit = 12 * values[values.length >> 1]!;
  let sum = 0, count = 0;
  while (count < values.length && values[count]! <= limit) {
    sum += values[count++]!;
  }
  return sum / count;
}
