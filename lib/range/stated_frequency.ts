import { type Capture, findChannel } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { ReadStatedDrive } from "./ramps.ts";

/** The frequency of a stated drive, held against the power. */
export interface FoundFrequency {
  /** Frequency by the power in the monitor signal, in Hz. */
  readonly frequency: number;
  /** Its standard uncertainty, in Hz; `Infinity` where the power does not tell. */
  readonly standardUncertainty: number;
}

const work = "find the frequency of the drive";
/** Fewest periods from which a frequency is found. */
const fewestPeriods = 3;

/**
 * The frequency with which the power in the monitor signal follows a stated drive:
 * the phase of its fundamental, period by period, runs on evenly where the stated
 * frequency is off. A knob is a per cent off, and the count of steps is as much.
 */
export function frequencyByPower(
  capture: Capture,
  { frequency: stated }: ReadStatedDrive,
): FoundFrequency {
  const unknown = { frequency: stated, standardUncertainty: Infinity };
  const monitor = findChannel(capture, "monitor signal");
  if (monitor === null) return unknown;
  let frequency = stated;
  let standardUncertainty = Infinity;
  for (let round = 0; round < 4; round++) {
    const phases = phasesOf(monitor.samples, capture.samplingRate, frequency);
    if (phases.length < fewestPeriods) return unknown;
    const { slope, deviation } = lineThrough(phases);
    const turns = slope / (2 * Math.PI);
    // Beyond that the phases may have been joined wrongly.
    if (!(Math.abs(turns) < 0.2)) return unknown;
    frequency *= 1 + turns;
    standardUncertainty = frequency * deviation / (2 * Math.PI);
  }
  return { frequency, standardUncertainty };
}

/** Phase of the fundamental in each period, joined to the one before. */
function phasesOf(
  samples: ArrayLike<number>,
  samplingRate: number,
  frequency: number,
): number[] {
  const length = samplingRate / frequency;
  const count = Math.floor(samples.length / length);
  const phases: number[] = [];
  for (let period = 0; period < count; period++) {
    checkpoint(period / count, work);
    const from = Math.round(period * length);
    const to = Math.min(samples.length, Math.round((period + 1) * length));
    let mean = 0;
    for (let i = from; i < to; i++) mean += samples[i]! / (to - from);
    let [real, imaginary] = [0, 0];
    for (let i = from; i < to; i++) {
      const phase = 2 * Math.PI * i / length;
      const value = samples[i]! - mean;
      if (value - value !== 0) continue;
      real += value * Math.cos(phase);
      imaginary -= value * Math.sin(phase);
    }
    const phase = Math.atan2(imaginary, real);
    const last = phases.at(-1) ?? phase;
    phases.push(
      phase - 2 * Math.PI * Math.round((phase - last) / (2 * Math.PI)),
    );
  }
  return phases;
}

/** Slope per period and its standard uncertainty. */
function lineThrough(phases: readonly number[]) {
  const n = phases.length;
  const middle = (n - 1) / 2;
  const mean = phases.reduce((sum, phase) => sum + phase, 0) / n;
  let [across, squares] = [0, 0];
  phases.forEach((phase, k) => {
    across += (k - middle) * (phase - mean);
    squares += (k - middle) ** 2;
  });
  const slope = across / squares;
  const left = phases.reduce(
    (sum, phase, k) => sum + (phase - mean - slope * (k - middle)) ** 2,
    0,
  );
  return {
    slope,
    deviation: Math.sqrt(left / Math.max(1, n - 2) / squares),
  };
}
