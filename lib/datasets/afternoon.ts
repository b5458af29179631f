import { simulateCapture } from "../laser/mod.ts";
import { extremesOf } from "../order/mod.ts";
import { createRandom } from "../signal/mod.ts";
import { airIndex, rangingDiode } from "./bench.ts";
import { known, type MadeDataset, truth } from "./manifest.ts";
import {
  generatorScale,
  makeScopeCapture,
  red,
  scopeDataset,
  standingCurrent,
} from "./scope_capture.ts";

const turn = 2 * Math.PI;

/** Where the ruler's zero is: behind the facet, at the back of the mount, in m. */
const rulerZero = 0.0264;

/** A sine on the diode's current, the card far and near. */
export function makeSineRanges(): MadeDataset[] {
  const amplitude = 0.75e-3;
  const frequency = 25;
  return ([
    ["sine-far", 0.1, 0.7, 2691],
    ["sine-near", 0.05, 1.2, 2692],
  ] as const).map(([name, reading, feedbackParameter, seed]) => {
    // To a part of a wavelength, so that 4 edges show far and 1 near.
    const place = reading +
      (name === "sine-far" ? 0.1102e-3 : -0.15978e-3);
    const optical = place - rulerZero;
    const swing = rangingDiode.tuning * amplitude;
    const wave = (time: number) => Math.sin(turn * (frequency * time + 0.21));
    return makeScopeCapture({
      name,
      what: `Sine of ${frequency} Hz on the diode's current, white card ${
        (1e3 * reading).toFixed(0)
      } mm from the back of the mount; CH2 is the generator`,
      samplingRate: 20e3,
      duration: 0.13,
      simulated: {
        distance: optical,
        current: (time) => standingCurrent + amplitude * wave(time),
        diode: rangingDiode,
        feedbackParameter,
      },
      drive: (time) => amplitude / generatorScale * wave(time),
      driveReading: "diode",
      seed,
      known: {
        wavelength: red,
        refractiveIndex: known(airIndex, 1e-6, "1", "Air of the room"),
        distance: known(
          reading,
          0.3e-3,
          "m",
          "Read off a ruler that begins at the back of the mount",
        ),
        currentPerVoltage: known(
          generatorScale,
          0.01 * generatorScale,
          "A/V",
          "Of resistor and laser, by calculation",
        ),
      },
      truth: {
        wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
        distance: truth(place, "m", "Card from the ruler's zero"),
        opticalDistance: truth(optical, "m", "Card from the diode's facet"),
        zeroOffset: truth(rulerZero, "m", "Facet from the ruler's zero"),
        stepsPerRamp: truth(
          2 * airIndex * optical * 2 * swing /
            (rangingDiode.wavelength ** 2 - swing ** 2),
          "1",
          "Steps from turning point to turning point",
        ),
        tuning: truth(rangingDiode.tuning, "m/A", "At the standing current"),
        feedbackParameter: truth(feedbackParameter, "1", "C"),
      },
    });
  });
}

/** Taps on the table, and how it rings after them. */
interface TapRecipe {
  readonly name: string;
  readonly what: string;
  /** In s. */
  readonly duration: number;
  /** Damped frequency, in Hz. */
  readonly frequency: number;
  /** Until the amplitude has fallen to 1/e, in s. */
  readonly decayTime: number;
  /** Of each tap, in m. */
  readonly amplitudes: readonly number[];
  /** First tap after the first sample, in s. */
  readonly tapped: number;
  /** From tap to tap, in s. */
  readonly between: number;
  /** Time that the table takes to start, in s: a hammer is no needle. */
  readonly start: number;
  readonly seed: number;
  readonly truth: MadeDataset["entry"]["truth"];
}

function makeTapped(recipe: TapRecipe): MadeDataset {
  const { frequency, decayTime, amplitudes, tapped, between, start } = recipe;
  return makeScopeCapture({
    ...recipe,
    samplingRate: 25e3,
    simulated: {
      distance: (time) =>
        amplitudes.reduce((place, amplitude, k) => {
          const since = time - tapped - k * between;
          if (since < 0) return place;
          return place + amplitude * (1 - Math.exp(-((since / start) ** 2))) *
              Math.exp(-since / decayTime) * Math.sin(turn * frequency * since);
        }, 0.12),
      current: rangingDiode.referenceCurrent,
      diode: rangingDiode,
      feedbackParameter: 0.8,
    },
    drive: null,
    driveReading: "target",
    known: { wavelength: red },
    truth: {
      wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
      frequency: truth(frequency, "Hz", "Of the damped vibration"),
      decayTime: truth(decayTime, "s", "Amplitude falls to 1/e"),
      dampingRatio: truth(
        1 / Math.hypot(1, turn * frequency * decayTime),
        "1",
        "Damping ratio ζ",
      ),
      naturalFrequency: truth(
        Math.hypot(frequency, 1 / (turn * decayTime)),
        "Hz",
        "Undamped",
      ),
      ...recipe.truth,
    },
  });
}

/** A tap on the table, card at rest. */
export function makeTap(): MadeDataset {
  const [amplitude, tapped] = [2.4e-6, 0.015];
  return makeTapped({
    name: "tap",
    what: "Card at rest, a tap on the table after 15 ms",
    duration: 0.2,
    frequency: 52,
    decayTime: 0.09,
    amplitudes: [amplitude],
    tapped,
    between: 0,
    start: 1e-3,
    seed: 2696,
    truth: {
      tapTime: truth(tapped, "s", "Tap after the first sample"),
      initialAmplitude: truth(amplitude, "m", "Amplitude at the tap"),
    },
  });
}

/** Three taps on the table, each while the last still rings. */
export function makeTaps(): MadeDataset {
  const amplitudes = [1.7e-6, 1.3e-6, 1.6e-6];
  const tapped = 0.02;
  return makeTapped({
    name: "taps",
    what: "Card at rest, three taps on the table, one after the other",
    duration: 0.52,
    frequency: 41,
    decayTime: 0.09,
    amplitudes,
    tapped,
    between: 0.17,
    start: 3e-3,
    seed: 2697,
    truth: {
      taps: truth(amplitudes.length, "1", "Taps"),
      tapTime: truth(tapped, "s", "First tap after the first sample"),
    },
  });
}

/** What the junction's voltage does as the light goes through a fringe, in V. */
const junctionSwing = 40e-6;
/** Gain of the amplifier behind the capacitor at the diode's leads. */
const junctionGain = 1000;

/** A loudspeaker seen by the junction voltage of a diode without a photodiode. */
export function makeJunction(): MadeDataset {
  const samplingRate = 25e3;
  const [amplitude, frequency] = [1.3e-6, 87];
  const capture = simulateCapture({
    distance: (time) => 0.1 + amplitude * Math.sin(turn * frequency * time),
    samplingRate,
    duration: 0.08,
    refractiveIndex: airIndex,
    diode: rangingDiode,
    current: standingCurrent,
    feedbackParameter: 0.8,
    drive: null,
    oversampling: 4,
    seed: 2691,
  });
  const light = capture.channels[0]!.samples;
  const [low, high] = extremesOf(light);
  const random = createRandom(2692);
  // More light means fewer carriers, and a lower voltage.
  const volts = light.map((value) =>
    -junctionGain *
    (junctionSwing * (2 * value - low - high) / (high - low) +
      1.6e-6 * random.normal())
  );
  return scopeDataset({
    name: "junction",
    what:
      "Loudspeaker on a sine of 87 Hz, seen by the junction voltage of the red diode behind a gain of 1000",
    samplingRate,
    samples: [volts],
    channels: { CH1: "junction voltage" },
    digits: 5,
    format:
      "delimited text: metadata lines, one column, sample interval in the metadata",
    known: { wavelength: red },
    truth: {
      wavelength: truth(rangingDiode.wavelength, "m", "True"),
      amplitude: truth(amplitude, "m", "Amplitude (peak)"),
      frequency: truth(frequency, "Hz", "Periods per second"),
    },
  });
}
