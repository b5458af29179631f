import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";

/** Mains hum in a channel. */
export interface MainsHum {
  /** Mains frequency, in Hz: 50 or 60. */
  readonly frequency: number;
  /** Amplitudes of the first three harmonics, in the channel's unit. */
  readonly amplitudes: readonly number[];
  /** Amplitude of the neighbouring frequencies, in the channel's unit. */
  readonly background: number;
  /**
   * Second largest amplitude of the harmonics from the fourth on, in the channel's unit: of
   * hum they are small, of a target that vibrates at this frequency by more than a
   * fringe they are as large as the first (2 Jₙ of the phase's amplitude).
   */
  readonly higherHarmonics: number;
  /**
   * Whether the first harmonic is higher than what lies half a resolution beside it,
   * and more than four times the background and each of
   * the higher harmonics, and more than 1.5 times all from the third on together, all
   * without the largest of them.
   */
  readonly standsOut: boolean;
  /** Frequencies nearer than this are not told apart, in Hz. */
  readonly resolution: number;
}

/** Orders that hum hardly has. */
const higherOrders = [4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14];
/**
 * The first harmonic of hum over the third and the higher ones together, at least
 * (1). Of a target that vibrates by more than a fringe it is larger in less than one
 * of a hundred phases (2 Jₙ of the phase's amplitude, from 1.3 fringes on), also
 * where the feedback bends the fringes.
 */
const leastPurity = 1.5;

/**
 * Looks for 50 Hz and 60 Hz with two harmonics: the amplitude there (Hann
 * window, means over stretches of up to 1 s) against the amplitude of the
 * frequencies beside it.
 *
 * @param samples The samples.
 * @param samplingRate In Hz.
 * @param frequencies Mains frequencies, in Hz.
 * @returns The strongest of them, whether or not it stands out; `null` if the
 * capture is shorter than four mains periods or sampled below 400 Hz.
 */
export function findHum(
  samples: Samples,
  samplingRate: number,
  frequencies: readonly number[] = [50, 60],
): MainsHum | null {
  const duration = samples.length / samplingRate;
  if (samplingRate < 400 || duration < 0.08) return null;
  const factor = Math.max(1, Math.floor(samplingRate / 2000));
  const slow = blockMeans(samples, factor);
  const rate = samplingRate / factor;
  const length = Math.min(slow.length, Math.round(rate));
  const segments = Math.min(8, Math.floor(slow.length / length));
  const stretches = hannStretches(slow, length, segments);
  const turns = {
    real: new Float64Array(length),
    imaginary: new Float64Array(length),
  };
  const amplitude = (frequency: number) => {
    checkpoint(NaN, "look for hum");
    fillTurns(turns, frequency / rate);
    let power = 0;
    for (const stretch of stretches) power += powerOf(stretch, turns);
    return Math.sqrt(power / segments);
  };
  let best: MainsHum | null = null;
  const spacing = rate / length;
  for (const frequency of frequencies) {
    const amplitudes = [1, 2, 3].map((harmonic) =>
      amplitude(harmonic * frequency)
    );
    const beside = [-4, -3, 3, 4].map((offset) => frequency + offset * spacing)
      .filter((value) => value > spacing).map(amplitude).sort((a, b) => a - b);
    const background = beside[beside.length >> 1] ?? NaN;
    // A motion of 40 Hz is no hum, however short the record.
    const isPeak = () =>
      [-0.5, 0.5].every((offset) =>
        amplitudes[0]! > amplitude(frequency + offset * spacing)
      );
    const higher = higherOrders.map((order) => order * frequency)
      .filter((value) => value < 0.45 * rate).map(amplitude);
    // Without the largest: a fast fringe may be folded onto one.
    higher.sort((a, b) => b - a);
    const higherHarmonics = higher[1] ?? 0;
    const together = Math.hypot(amplitudes[2]!, ...higher.slice(1));
    if (best === null || amplitudes[0]! > best.amplitudes[0]!) {
      best = {
        frequency,
        amplitudes,
        background,
        higherHarmonics,
        standsOut: amplitudes[0]! > 4 * background &&
          amplitudes[0]! > 4 * higherHarmonics &&
          amplitudes[0]! > leastPurity * together && isPeak(),
        resolution: 2 * spacing,
      };
    }
  }
  return best;
}

function blockMeans(samples: Samples, factor: number): Float64Array {
  const means = new Float64Array(Math.floor(samples.length / factor));
  let seen = 0;
  for (let block = 0; block < means.length; block++) {
    if (block * factor >= seen) {
      checkpoint(NaN, "look for hum");
      seen += 0x40000;
    }
    let sum = 0;
    let count = 0;
    for (let index = block * factor; index < (block + 1) * factor; index++) {
      const value = samples[index]!;
      if (value - value !== 0) continue;
      sum += value;
      count++;
    }
    means[block] = count > 0 ? sum / count : block > 0 ? means[block - 1]! : 0;
  }
  return means;
}

/** Stretches of samples without their mean, under a Hann window. */
function hannStretches(
  samples: Float64Array,
  length: number,
  count: number,
): Float64Array[] {
  const window = Float64Array.from(
    { length },
    (_, n) => 0.5 - 0.5 * Math.cos(2 * Math.PI * (n + 0.5) / length),
  );
  return Array.from({ length: count }, (_, segment) => {
    const start = segment * length;
    let mean = 0;
    for (let n = 0; n < length; n++) mean += samples[start + n]!;
    mean /= length;
    return window.map((value, n) => value * (samples[start + n]! - mean));
  });
}

/** A turning pointer, sample by sample: one for all stretches. */
interface Turns {
  readonly real: Float64Array;
  readonly imaginary: Float64Array;
}

/** Lets a pointer turn with a frequency, in cycles per sample. */
function fillTurns({ real, imaginary }: Turns, frequency: number): void {
  for (let n = 0; n < real.length; n++) {
    const phase = 2 * Math.PI * frequency * n;
    real[n] = Math.cos(phase);
    imaginary[n] = Math.sin(phase);
  }
}

/** Squared amplitude of a frequency in a stretch under a Hann window. */
function powerOf(stretch: Float64Array, { real, imaginary }: Turns): number {
  const { length } = stretch;
  let re = 0;
  let im = 0;
  for (let n = 0; n < length; n++) {
    const value = stretch[n]!;
    re += value * real[n]!;
    im -= value * imaginary[n]!;
  }
  // Mean of the Hann window is 1/2: amplitude = 2 |X| / (N / 2).
  return (re * re + im * im) * 16 / (length * length);
}
