import { checkpoint } from "../progress/mod.ts";
import type { RandomStream } from "../signal/mod.ts";

/** What disturbs the simulated signal. */
export interface NoiseModel {
  /**
   * White noise of the output, in V (rms over the whole sampled band).
   *
   * @default {0}
   */
  white: number;
  /**
   * White noise given as signal-to-noise ratio in dB instead: mean square of an
   * unfaded fringe at the mean power over that of the noise. Comes on top of
   * `white`; `null` for none.
   *
   * @default {null}
   */
  signalToNoiseRatio: number | null;
  /** Whether the monitor current has shot noise. @default {false} */
  shot: boolean;
  /** 1/f noise of the output: density at 1 Hz, in V/√Hz. @default {0} */
  flicker: number;
  /** Mains hum of the output; `null` for none. @default {null} */
  hum: {
    /** Amplitude of the fundamental, in V. */
    amplitude: number;
    /** Mains frequency, in Hz. */
    frequency: number;
    /** Amplitudes of harmonics 2, 3, … relative to the first. */
    harmonics?: readonly number[];
  } | null;
}

/** Every option of {@linkcode NoiseModel} left out: no noise. */
export const defaultNoise: Readonly<NoiseModel> = Object.freeze({
  white: 0,
  signalToNoiseRatio: null,
  shot: false,
  flicker: 0,
  hum: null,
});

const elementaryCharge = 1.602176634e-19;

/** Adds shot noise of density 2eI to a current in A, in place. */
export function addShotNoise(
  current: Float64Array,
  samplingRate: number,
  random: RandomStream,
): void {
  const perCurrent = elementaryCharge * samplingRate;
  for (let i = 0; i < current.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / current.length, "noise");
    const variance = perCurrent * Math.max(0, current[i]!);
    current[i]! += Math.sqrt(variance) * random.normal();
  }
}

/** Adds white noise of the given rms value, in place. */
export function addWhiteNoise(
  samples: Float64Array,
  rms: number,
  random: RandomStream,
): void {
  if (rms === 0) return;
  for (let i = 0; i < samples.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(i / samples.length, "noise");
    samples[i]! += rms * random.normal();
  }
}

/**
 * Adds noise of density (K/√f)² in place: a sum of first-order noises whose
 * corners lie an octave apart, from an eighth of one cycle per record up to 0.41
 * of the sampling rate. Within 6 % of 1/f from one cycle per record up to a
 * quarter of the sampling rate; above, what a sampler folds back is in it too.
 */
export function addFlickerNoise(
  samples: Float64Array,
  samplingRate: number,
  densityAtOneHertz: number,
  random: RandomStream,
): void {
  if (densityAtOneHertz === 0) return;
  const lowest = samplingRate / samples.length / 8;
  for (let corner = 0.41 * samplingRate; corner > lowest; corner /= 2) {
    // A sum over corners f_c of (A²/f_c)/(1 + (f/f_c)²) with octave spacing
    // tends to A² π/(2 ln 2)/f.
    const density = densityAtOneHertz ** 2 * 2 * Math.LN2 / Math.PI / corner;
    const rms = Math.sqrt(density * corner * Math.PI / 2);
    const keep = Math.exp(-2 * Math.PI * corner / samplingRate);
    const kick = rms * Math.sqrt(1 - keep * keep);
    let state = rms * random.normal();
    for (let i = 0; i < samples.length; i++) {
      if ((i & 0xffff) === 0) checkpoint(i / samples.length, "noise");
      samples[i]! += state;
      state = keep * state + kick * random.normal();
    }
  }
}

/** Adds mains hum with a random phase, in place. */
export function addHum(
  samples: Float64Array,
  samplingRate: number,
  hum: NonNullable<NoiseModel["hum"]>,
  random: RandomStream,
): void {
  const { amplitude, frequency, harmonics = [] } = hum;
  [1, ...harmonics].forEach((relative, k) => {
    const start = 2 * Math.PI * random.uniform();
    const step = 2 * Math.PI * frequency * (k + 1) / samplingRate;
    for (let i = 0; i < samples.length; i++) {
      if ((i & 0xffff) === 0) checkpoint(i / samples.length, "noise");
      samples[i]! += amplitude * relative * Math.sin(start + step * i);
    }
  });
}
