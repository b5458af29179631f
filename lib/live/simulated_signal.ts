import { type Surface, surfaces } from "../bench/mod.ts";
import {
  defaultDiode,
  feedbackPhase,
  type FeedbackState,
  modelPower,
} from "../laser/mod.ts";
import { airRefractiveIndex } from "../options/mod.ts";
import { quietly } from "./quietly.ts";
import { createRandom, type RandomStream } from "../signal/mod.ts";

/** What can be turned at the simulated bench; SI units. */
export interface BenchKnobs {
  /** Distance from diode to target, in m. */
  distance: number;
  /** How far the lens stands from its best place, in m. */
  focus: number;
  /** Name of the surface of the target, as in the table `surfaces`. */
  surface: string;
  /** Drive current, in A; with a ramp its middle. */
  current: number;
  /** Half of what the current ramps up and down, in A; 0 for no ramp. */
  rampAmplitude: number;
  /** Ramps per second, in Hz. */
  rampFrequency: number;
  /** Amplitude of the target's motion, in m; 0 for a target at rest. */
  motionAmplitude: number;
  /** Frequency of the target's motion, in Hz. */
  motionFrequency: number;
  /** Gain of the amplifier behind the photodiode, relative to 10 kΩ (1). */
  gain: number;
  /** Amplitude of the mains hum, in V. */
  hum: number;
  /** Whether something stands in the beam. */
  blocked: boolean;
}

/** The knobs as one finds them: the lens is out of place. */
export const startKnobs: Readonly<BenchKnobs> = Object.freeze({
  distance: 0.1,
  focus: 1.2e-3,
  surface: "white card",
  current: 0.04,
  rampAmplitude: 0,
  rampFrequency: 20,
  motionAmplitude: 2.5e-6,
  motionFrequency: 40,
  gain: 1,
  hum: 0,
  blocked: false,
});

/** Transimpedance at gain 1, in Ω; with it 40 mA give 0.51 V. */
const transimpedance = 10e3;
/** White noise behind the amplifier, in V (rms). */
const noise = 0.2e-3;
/** Limits of the converter, in V, and its bits. */
export const converter = Object.freeze({ low: -1, high: 1, bits: 16 });
/** How far the lens may be off until the field fell to 1/e, in m. */
const focusWidth = 0.6e-3;
/** C of a white card at 0.1 m with the lens in its place (1). */
const whiteFeedback = 1.5;
/** Modulation index there (1). */
const whiteModulation = 0.01;
const mains = 50;

/** Field that returns into the diode, relative to a white card in focus (1). */
function returnedField({ focus, surface, blocked }: BenchKnobs): number {
  if (blocked) return 0;
  const { reflectance, gain, kind } = surfaces.find(({ name }) =>
    name === surface
  ) as Surface;
  const towards = kind === "mirror" ? 700 : gain;
  return Math.exp(-((focus / focusWidth) ** 2)) *
    Math.sqrt(reflectance * towards / 0.8);
}

/**
 * The signal of the simulated bench, piece after piece: excess-phase equation at
 * any C, power slope, amplifier, noise, hum and converter. The phase goes on from
 * piece to piece, whatever is turned in between.
 */
export class SimulatedSignal {
  readonly #random: RandomStream;
  readonly #samplingRate: number;
  #state: FeedbackState | null = null;
  #count = 0;

  constructor(samplingRate: number, seed: number) {
    this.#samplingRate = samplingRate;
    this.#random = createRandom(seed);
  }

  /** The next samples: monitor in V, drive in A. */
  next(count: number, knobs: Readonly<BenchKnobs>): Float64Array[] {
    const diode = defaultDiode;
    const drive = new Float64Array(count);
    const phase = new Float64Array(count);
    const turn = 2 * Math.PI;
    for (let i = 0; i < count; i++) {
      const time = (this.#count + i) / this.#samplingRate;
      const part = time * knobs.rampFrequency % 1;
      const current = knobs.current +
        knobs.rampAmplitude * (1 - 4 * Math.abs(part - 0.5));
      const distance = knobs.distance +
        knobs.motionAmplitude * Math.sin(turn * knobs.motionFrequency * time);
      const wavelength = diode.wavelength +
        diode.tuning * (current - diode.referenceCurrent);
      drive[i] = current;
      phase[i] = 2 * turn * airRefractiveIndex * distance / wavelength;
    }
    const field = returnedField(knobs);
    const solved = quietly(() =>
      feedbackPhase(phase, {
        feedbackParameter: whiteFeedback * field * knobs.distance / 0.1,
        linewidthEnhancementFactor: diode.linewidthEnhancementFactor,
        state: this.#state,
      })
    );
    this.#state = solved.state;
    const monitor = new Float64Array(count);
    const { low, high, bits } = converter;
    const step = (high - low) / 2 ** bits;
    const scale = diode.monitorResponsivity * transimpedance * knobs.gain;
    const modulation = Math.min(0.5, whiteModulation * field);
    for (let i = 0; i < count; i++) {
      const current = drive[i]!;
      const lasing = current > diode.thresholdCurrent ? modulation : 0;
      const time = (this.#count + i) / this.#samplingRate;
      const value = scale * modelPower(diode, current) *
          (1 + lasing * Math.cos(solved.phase[i]!)) +
        noise * Math.max(1, knobs.gain) * this.#random.normal() +
        (knobs.hum === 0 ? 0 : knobs.hum * Math.sin(turn * mains * time));
      monitor[i] = step *
        Math.round(Math.min(high - step, Math.max(low, value)) / step);
    }
    this.#count += count;
    return [monitor, drive];
  }
}
