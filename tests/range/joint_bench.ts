import { stepBound } from "fringebook/range";
import { createRandom } from "fringebook/signal";
import {
  rampCapture,
  refractiveIndex,
  trueSteps,
  trueTurns,
  wavelength,
} from "./bench.ts";

/** A random bench of the joint trial and what is true of it. */
export interface JointBench {
  readonly seed: number;
  readonly feedbackParameter: number;
  /** Signal-to-noise ratio, in dB. */
  readonly ratio: number;
  /** Steps per whole ramp. */
  readonly steps: number;
  /** Distance, in m. */
  readonly distance: number;
  readonly low: number;
  readonly high: number;
  readonly frequency: number;
  readonly start: number;
  readonly duration: number;
  /** Mode hop: current (A) and jump of the phase in turns, less whole ones. */
  readonly hop:
    | { current: number; wavelengthStep: number; hysteresis: number }
    | null;
  readonly hopTurns: number;
  /** A knock that rings: start (s), amplitude (m), frequency (Hz), decay (s). */
  readonly tap:
    | { start: number; amplitude: number; frequency: number; decay: number }
    | null;
  /** Time constant of the tuning, in s; 0 for none. */
  readonly lag: number;
}

export const samplingRate = 10e3;

/**
 * Draws benches: C 0.1 to 4 and 1 to 60 steps evenly in the logarithm, 15 to 40
 * dB, 20 to 400 mm; a hop, a tap and a lag each in one of three, independently.
 */
export function createBenches(seed: number): () => JointBench {
  const random = createRandom(seed);
  let next = 0;
  return () => {
    for (;;) {
      const feedbackParameter = 0.1 * 40 ** random.uniform();
      const ratio = 15 + 25 * random.uniform();
      const wanted = 60 ** random.uniform();
      const distance = 0.02 * 20 ** random.uniform() +
        325e-9 * random.uniform();
      const span = wanted * 650e-9 ** 2 / (2 * distance * 8e-9);
      const middle = 0.04 + 0.01 * random.uniform();
      const [low, high] = [middle - span / 2, middle + span / 2];
      const frequency = 9.7 + 0.6 * random.uniform();
      const start = random.uniform();
      const duration = 0.42;
      const [hops, taps, lags] = [
        random.uniform() < 1 / 3,
        random.uniform() < 1 / 3,
        random.uniform() < 1 / 3,
      ];
      const wavelengthStep = 0.1e-9 * (1 + random.uniform());
      const hop = {
        current: low + span * (0.25 + 0.5 * random.uniform()),
        wavelengthStep,
        hysteresis: 0.05 * span * random.uniform(),
      };
      const tap = {
        start: duration * random.uniform(),
        amplitude: 50e-9 * 20 ** random.uniform(),
        frequency: 150 + 250 * random.uniform(),
        decay: 3e-3 + 7e-3 * random.uniform(),
      };
      const lag = 0.3e-3 * 20 ** random.uniform();
      if (low < 0.026 || high > 0.09) continue;
      return {
        seed: ++next,
        feedbackParameter,
        ratio,
        steps: trueSteps(distance, low, high),
        distance,
        low,
        high,
        frequency,
        start,
        duration,
        hop: hops ? hop : null,
        hopTurns: hops ? trueTurns(distance, hop) : 0,
        tap: taps ? tap : null,
        lag: lags ? lag : 0,
      };
    }
  };
}

/** The capture of a bench. */
export function jointCapture(bench: JointBench) {
  const { tap, distance } = bench;
  return rampCapture({
    distance: tap === null ? distance : (time) => {
      const after = time - tap.start;
      return after <= 0 ? distance : distance +
        tap.amplitude * Math.exp(-after / tap.decay) *
          Math.sin(2 * Math.PI * tap.frequency * after);
    },
    low: bench.low,
    high: bench.high,
    frequency: bench.frequency,
    start: bench.start,
    feedbackParameter: bench.feedbackParameter,
    signalToNoiseRatio: bench.ratio,
    samplingRate,
    duration: bench.duration,
    seed: bench.seed,
    bandwidth: 2e3,
    // Jumps and steep flanks come between the steps of the simulation: short ones
    // where there are, so short that the noise hides them.
    oversampling: bench.feedbackParameter < 0.8
      ? 8
      : bench.ratio < 30
      ? 48
      : 192,
    diode: { modeHop: bench.hop, thermalTimeConstant: bench.lag },
  });
}

/** Bounds of the count for a bench at rest without hop and lag. */
export function jointBound(
  bench: JointBench,
  strokes: number,
  samples: number,
) {
  const middle = (bench.low + bench.high) / 2;
  const power = (current: number) =>
    0.3 * Math.max(0, current - 0.025) + 0.003 * current;
  const options = {
    steps: bench.steps,
    samples,
    strokes,
    relativeNoise: 10 ** (-bench.ratio / 20) / Math.SQRT2,
    feedbackParameter: bench.feedbackParameter,
    phase: 4 * Math.PI * refractiveIndex * bench.distance /
      (wavelength + 8e-9 * (middle - 0.04)),
    growth: (power(bench.high) - power(middle)) / power(middle),
  };
  return {
    cosine: stepBound(options).cosine,
    branches: stepBound(options).standardUncertainty,
    sharp: stepBound({ ...options, jumps: "between samples" })
      .standardUncertainty,
    pole: stepBound({ ...options, jumps: { bandwidth: 0.2 } })
      .standardUncertainty,
  };
}
