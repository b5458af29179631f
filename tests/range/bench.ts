import {
  rampCurrent,
  simulateCapture,
  type SimulatedCapture,
} from "fringebook";
import type { DiodeModel } from "fringebook/laser";

/** What a test's bench may differ in. */
export interface BenchOptions {
  distance?: number | ((time: number) => number);
  low?: number;
  high?: number;
  frequency?: number;
  shape?: "triangle" | "sawtooth";
  start?: number;
  feedbackParameter?: number;
  signalToNoiseRatio?: number | null;
  samplingRate?: number;
  duration?: number;
  seed?: number;
  diode?: Partial<DiodeModel>;
  driveNoise?: number;
  inverting?: boolean;
  bandwidth?: number | null;
  oversampling?: number;
}

/** Wavelength of the invented diode at 40 mA and its tuning, m and m/A. */
export const wavelength = 650e-9;
export const tuning = 8e-9;
/** Index used throughout the tests. */
export const refractiveIndex = 1.00027;

/** A capture of the invented bench with a ramp. */
export function rampCapture(options: BenchOptions = {}): SimulatedCapture {
  const {
    distance = 0.15,
    low = 0.038,
    high = 0.042,
    frequency = 9.83,
    shape = "triangle",
    start = 0.13,
    feedbackParameter = 0.6,
    signalToNoiseRatio = 30,
    samplingRate = 10e3,
    duration = 0.4,
    seed = 1,
    diode = {},
    driveNoise = 0,
    inverting = false,
    bandwidth = null,
    oversampling = 1,
  } = options;
  return simulateCapture({
    distance,
    refractiveIndex,
    current: rampCurrent({ low, high, frequency, shape, start }),
    samplingRate,
    duration,
    feedbackParameter,
    noise: { signalToNoiseRatio },
    seed,
    diode,
    drive: { noise: driveNoise },
    frontEnd: { inverting, bandwidth },
    oversampling,
  });
}

/** Steps between two currents: N = 2nL (1/λ₁ - 1/λ₂), exact. */
export function trueSteps(
  distance: number,
  low: number,
  high: number,
): number {
  return 2 * refractiveIndex * distance *
    (1 / wavelengthAt(low) - 1 / wavelengthAt(high));
}

/** Turns of the phase at a mode hop, less whole ones: exact. */
export function trueTurns(
  distance: number,
  hop: { readonly current: number; readonly wavelengthStep: number },
): number {
  const below = wavelengthAt(hop.current);
  const turns = 2 * refractiveIndex * distance *
    (1 / below - 1 / (below + hop.wavelengthStep));
  return turns - Math.round(turns);
}

function wavelengthAt(current: number): number {
  return wavelength + tuning * (current - 0.04);
}
