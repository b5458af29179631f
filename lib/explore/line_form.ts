import { checkpoint } from "../progress/mod.ts";

/** The harmonics of an even row of fringes, as amplitudes over the first. */
export interface LineForm {
  /** Frequency of the first, in Hz. */
  readonly frequency: number;
  /** Amplitudes of the harmonics 1 to 12 over that of the first (1). */
  readonly harmonics: readonly number[];
  /** Amplitude beside the harmonics over that of the first (1). */
  readonly background: number;
  /** Share of the power around the first that lies in its line (1). */
  readonly clearness: number;
}

const mostHarmonics = 12;
const mostSamples = 1 << 18;

/**
 * Measures the harmonics of a signal that repeats evenly. Those of an even row of
 * fringes follow from cos φF with φ0 = φF + C sin(φF + arctan α): to first order in
 * C the second is C/2 of the first, and none is larger than the one before.
 *
 * @param samples The signal, all finite.
 * @param samplingRate In Hz.
 * @param near Frequency near which the first harmonic is looked for, in Hz.
 * @returns The harmonics below half the sampling rate.
 *
 * Source: Lang, Kobayashi 1980 (excess phase), expanded to first order.
 */
export function lineForm(
  samples: Float64Array,
  samplingRate: number,
  near: number,
): LineForm {
  const length = Math.min(samples.length, mostSamples);
  const part = windowed(samples.subarray(0, length));
  const bin = samplingRate / length;
  const power = (frequency: number) => {
    checkpoint(NaN, "look at the line");
    return powerAt(part, frequency / samplingRate);
  };
  // The median interval is good to a sample: look around it.
  const reach = Math.max(3, Math.ceil(0.03 * near / bin));
  const centre = Math.round(near / bin);
  const around: { place: number; value: number }[] = [];
  for (let k = -Math.min(reach, 200); k <= Math.min(reach, 200); k++) {
    const place = (centre + k) * bin;
    if (place >= 3 * bin) around.push({ place, value: power(place) });
  }
  const best = around.reduce(
    (a, b) => b.value > a.value ? b : a,
    { place: near, value: 0 },
  );
  let [frequency, highest] = [best.place, best.value];
  for (let step = bin / 2; step > bin / 64; step /= 2) {
    for (const other of [frequency - step, frequency + step]) {
      const value = power(other);
      if (value > highest) [frequency, highest] = [other, value];
    }
  }
  const first = Math.sqrt(highest);
  const harmonics: number[] = [];
  const beside: number[] = [];
  for (let n = 1; n <= mostHarmonics; n++) {
    const place = n * frequency;
    if (place > 0.49 * samplingRate) break;
    harmonics.push(Math.sqrt(power(place)) / first);
    for (const off of [-7, -5, 5, 7]) {
      beside.push(Math.sqrt(power(place + off * bin)) / first);
    }
  }
  beside.sort((a, b) => a - b);
  const all = around.reduce((sum, { value }) => sum + value, 0);
  const own = around.reduce(
    (sum, { place, value }) =>
      Math.abs(place - frequency) < 2.5 * bin ? sum + value : sum,
    0,
  );
  return {
    frequency,
    harmonics,
    background: beside[beside.length >> 1] ?? NaN,
    clearness: all > 0 ? own / all : 0,
  };
}

function windowed(samples: Float64Array): Float64Array {
  let mean = 0;
  for (const value of samples) mean += value / samples.length;
  const turn = 2 * Math.PI / samples.length;
  return samples.map((value, i) =>
    (value - mean) * (0.5 - 0.5 * Math.cos(turn * (i + 0.5)))
  );
}

/** Squared amplitude at a frequency in cycles per sample, any scale. */
function powerAt(samples: Float64Array, frequency: number): number {
  // Goertzel 1958 (from memory).
  const factor = 2 * Math.cos(2 * Math.PI * frequency);
  let before = 0;
  let last = 0;
  for (let i = 0; i < samples.length; i++) {
    const next = samples[i]! + factor * last - before;
    before = last;
    last = next;
  }
  return Math.max(0, last * last + before * before - factor * last * before);
}
