import { simulateCapture, type SimulatedCapture } from "fringebook";
import { createRandom } from "fringebook/signal";

/** A seeded bench with a vibrating target. */
export interface Scenario {
  readonly capture: SimulatedCapture;
  readonly feedbackParameter: number;
  readonly linewidthEnhancementFactor: number;
  /** Peak amplitude, in m. */
  readonly amplitude: number;
  /** In Hz. */
  readonly frequency: number;
  /** Noise over the amplitude of the fringe (1); 0 for none. */
  readonly relativeNoise: number;
}

/** What a scenario may fix; the rest is drawn from the seed. */
export interface ScenarioOptions {
  feedbackParameter?: number;
  linewidthEnhancementFactor?: number;
  /** In m. */
  amplitude?: number;
  /** In dB; `null` for none. */
  signalToNoiseRatio: number | null;
  /** Samples of the capture. */
  sampleCount?: number;
  /** Periods of the vibration in the capture. */
  periods?: number;
  /** Converter's bits; `null` for none. */
  bits?: number | null;
  /** Speckle contrast; 0 for none. */
  contrast?: number;
}

/** Wavelength of all scenarios, in m. */
export const wavelength = 650e-9;

/** Phase index of the air that the simulator takes. */
const index = 1.00027;

/** Rad of phase per metre, in that air. */
export const radPerMetre = 4 * Math.PI * index / wavelength;

/** C 0.05–6 and amplitude evenly on a logarithmic scale, α 2–6. */
export function makeScenario(seed: number, options: ScenarioOptions): Scenario {
  const random = createRandom(seed);
  const logarithmic = (low: number, high: number) =>
    low * (high / low) ** random.uniform();
  const drawnC = logarithmic(0.05, 6);
  const drawnAlpha = 2 + 4 * random.uniform();
  const drawnAmplitude = logarithmic(0.3e-6, 10e-6);
  const start = 2 * Math.PI * random.uniform();
  const offset = 1e-6 * random.uniform();
  const {
    feedbackParameter = drawnC,
    linewidthEnhancementFactor = drawnAlpha,
    amplitude = drawnAmplitude,
    signalToNoiseRatio,
    periods = 2.3 + random.uniform(),
    bits = null,
    contrast = 0,
  } = options;
  // At least 24 samples in the fastest fringe.
  const perPeriod = 2 * Math.PI * amplitude / (wavelength / 2) * 24;
  const sampleCount = options.sampleCount ??
    Math.max(4000, Math.ceil(perPeriod * periods));
  const samplingRate = 100e3;
  const frequency = periods * samplingRate / sampleCount;
  // Drawn as optical paths, so that a bench keeps its phases whatever air is
  // taken.
  const capture = simulateCapture({
    distance: (time) =>
      (0.1 + offset +
        amplitude * Math.sin(2 * Math.PI * frequency * time + start)) / index,
    samplingRate,
    duration: sampleCount / samplingRate,
    feedbackParameter,
    diode: { linewidthEnhancementFactor },
    noise: { signalToNoiseRatio },
    speckle: contrast > 0
      ? { contrast, correlationLength: 4 * amplitude / index }
      : null,
    // Room for the noise on both sides of the fringes, 5.03 V to 5.13 V.
    digitiser: bits === null ? null : { bits, low: 4.95, high: 5.22 },
    drive: null,
    seed,
  });
  return {
    capture,
    feedbackParameter,
    linewidthEnhancementFactor,
    amplitude: amplitude / index,
    frequency,
    relativeNoise: Math.hypot(
      signalToNoiseRatio === null
        ? 0
        : 10 ** (-signalToNoiseRatio / 20) / Math.SQRT2,
      // Uniform within a step of the converter, over the 51 mV of a fringe.
      bits === null ? 0 : 0.27 / 2 ** bits / Math.sqrt(12) / 0.0508,
    ),
  };
}

/** Error of a displacement against the truth, mean taken off, in m. */
export function displacementError(
  displacement: Float64Array,
  phase: Float64Array,
): { rms: number; largest: number } {
  let mean = 0;
  const n = displacement.length;
  for (let i = 0; i < n; i++) {
    mean += (displacement[i]! - phase[i]! / radPerMetre) / n;
  }
  let squares = 0;
  let largest = 0;
  for (let i = 0; i < n; i++) {
    const error = displacement[i]! - phase[i]! / radPerMetre - mean;
    squares += error * error;
    largest = Math.max(largest, Math.abs(error));
  }
  return { rms: Math.sqrt(squares / n), largest };
}

/** How many trials: the environment may ask for fewer or more. */
export function trialCount(usual: number): number {
  const asked = Number(Deno.env.get("MOTION_TRIALS") ?? NaN);
  return asked > 0 ? Math.min(asked, usual * 10) : usual;
}
