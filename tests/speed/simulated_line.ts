import { type Capture, createCapture } from "../../lib/capture/mod.ts";
import {
  inverseRealFourierTransform,
  type RandomStream,
} from "../../lib/signal/mod.ts";

/** A capture in memory with one monitor channel. */
export function captureOf(
  samples: Float64Array,
  samplingRate: number,
): Capture {
  return createCapture(
    [{ name: "monitor", role: "monitor signal", unit: "V", samples }],
    { samplingRate },
  );
}

/** A steady tone of amplitude 1 in white noise, SNR = 1 / (2 σ²). */
export function toneInNoise(
  count: number,
  turns: number,
  signalToNoise: number,
  random: RandomStream,
): Float64Array {
  const phase = 2 * Math.PI * random.uniform();
  const sigma = Math.sqrt(0.5 / signalToNoise);
  return Float64Array.from(
    { length: count },
    (_, n) =>
      Math.cos(2 * Math.PI * turns * n + phase) + sigma * random.normal(),
  );
}

/**
 * A line broadened by speckle: a Gaussian process whose spectrum is a Gaussian,
 * with unit power, in white noise. Made twice as long and cut, so that it does
 * not repeat itself.
 *
 * @param turns Centre, in turns per sample.
 * @param width Full width at half maximum, in turns per sample.
 */
export function broadenedLine(
  count: number,
  turns: number,
  width: number,
  signalToNoise: number,
  random: RandomStream,
): Float64Array {
  const length = 2 * count;
  const real = new Float64Array(count + 1);
  const imaginary = new Float64Array(count + 1);
  const spread = width / Math.sqrt(8 * Math.LN2);
  for (let k = 1; k < count; k++) {
    const u = (k / length - turns) / spread;
    if (Math.abs(u) > 8) continue;
    const density = Math.exp(-u * u / 2) / (spread * Math.sqrt(2 * Math.PI));
    const scale = Math.sqrt(density * length / 4);
    real[k] = scale * random.normal();
    imaginary[k] = scale * random.normal();
  }
  const out = inverseRealFourierTransform({ real, imaginary, length })
    .slice(0, count);
  const sigma = Math.sqrt(1 / signalToNoise);
  for (let n = 0; n < count; n++) out[n]! += sigma * random.normal();
  return out;
}
