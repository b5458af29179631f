import { simulateCapture, type SimulateCaptureOptions } from "../laser/mod.ts";
import { createRandom } from "../signal/mod.ts";
import {
  airIndex,
  motionDiode,
  motionLabel,
  rangingDiode,
  rangingLabel,
} from "./bench.ts";
import {
  known,
  type MadeDataset,
  type ManifestValue,
  truth,
} from "./manifest.ts";
import { writeText } from "./write_text.ts";

const turn = 2 * Math.PI;

/** Laser current per voltage of the generator at the afternoon's bench, in A/V. */
const generatorScale = 2.06e-3;
/** Standing current of the afternoon's red diode, in A. */
const standingCurrent = 0.04;
/** Where the ruler's zero is: behind the facet, at the back of the mount, in m. */
const rulerZero = 0.0264;

/** A capture of a two-channel scope: `CH1` the monitor, `CH2` what drives. */
interface ScopeRecipe {
  readonly name: string;
  readonly what: string;
  readonly samplingRate: number;
  readonly duration: number;
  readonly simulated: Partial<SimulateCaptureOptions> & {
    readonly distance: SimulateCaptureOptions["distance"];
  };
  /** Voltage of the second channel; `null` for one channel. */
  readonly drive: ((time: number) => number) | null;
  /** What the second channel is to the reader. */
  readonly driveReading: "target" | "diode";
  readonly seed: number;
  readonly known: Readonly<Record<string, ManifestValue>>;
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

function makeScopeCapture(recipe: ScopeRecipe): MadeDataset {
  const { name, samplingRate, duration, drive } = recipe;
  const capture = simulateCapture({
    samplingRate,
    duration,
    modulationIndex: 0.012,
    refractiveIndex: airIndex,
    frontEnd: { bandwidth: 80e3, rails: { low: -9, high: 9 } },
    noise: { signalToNoiseRatio: 30, shot: true, flicker: 2e-4 },
    digitiser: { bits: 12, low: 0, high: 10 },
    drive: null,
    oversampling: 4,
    seed: recipe.seed,
    ...recipe.simulated,
  });
  const random = createRandom(recipe.seed + 1000);
  const volts = drive === null ? null : Float64Array.from(
    { length: capture.sampleCount },
    // A converter of 12 bits over 4 V, noise of 1 mV.
    (_, i) =>
      Math.round((drive(i / samplingRate) + 1e-3 * random.normal()) * 1024) /
      1024,
  );
  const microseconds = 1e6 / samplingRate;
  const columns = [
    {
      heading: "CH1 (V)",
      samples: capture.channels[0]!.samples,
      unit: 1,
      digits: 4,
    },
    ...(volts === null
      ? []
      : [{ heading: "CH2 (V)", samples: volts, unit: 1, digits: 4 }]),
  ];
  return {
    bytes: writeText(
      [
        "Origin: simulated teaching bench",
        `Sample interval: ${microseconds} µs`,
      ],
      columns,
      { delimiter: ",", decimal: ".", lineEnd: "\n", byteOrderMark: false },
    ),
    entry: {
      name,
      series: "afternoon",
      file: `${name}.csv`,
      what: recipe.what,
      format:
        "delimited text: metadata lines, comma, sample interval in the metadata, channels named as a scope names them",
      samplingRate,
      sampleCount: capture.sampleCount,
      reading: {
        channels: {
          CH1: "monitor signal",
          ...(volts === null ? {} : {
            CH2: recipe.driveReading === "target" ? "other" as const : {
              role: "drive current" as const,
              currentPerVoltage: generatorScale,
              currentOffset: standingCurrent,
            },
          }),
        },
      },
      known: recipe.known,
      truth: recipe.truth,
    },
  };
}

const infrared = known(
  motionLabel.value,
  motionLabel.standardUncertainty,
  "m",
  "Label of the near-infrared diode",
);

const red = known(
  rangingLabel.value,
  rangingLabel.standardUncertainty,
  "m",
  "Label of the red diode",
);

const motionTruth = { wavelength: truth(motionDiode.wavelength, "m", "True") };

/** Extremes of a periodic motion and their places in its period. */
function extremesOf(motion: (part: number) => number) {
  const count = 20_000;
  let [low, high, lowAt, highAt] = [Infinity, -Infinity, 0, 0];
  for (let i = 0; i < count; i++) {
    const value = motion(i / count);
    if (value < low) [low, lowAt] = [value, i / count];
    if (value > high) [high, highAt] = [value, i / count];
  }
  return { peakToPeak: high - low, rise: (highAt - lowAt + 1) % 1 };
}

interface SpeakerRecipe {
  readonly name: string;
  readonly what: string;
  /** In Hz. */
  readonly frequency: number;
  /** Displacement by the part of the period that is over, in m. */
  readonly motion: (part: number) => number;
  /** Voltage of the loudspeaker, in the same way. */
  readonly volts: (part: number) => number;
  readonly samplingRate: number;
  readonly duration: number;
  readonly seed: number;
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

function makeSpeaker(recipe: SpeakerRecipe): MadeDataset {
  const { frequency, motion, volts } = recipe;
  const part = (time: number) => (frequency * time + 0.17) % 1;
  return makeScopeCapture({
    ...recipe,
    simulated: {
      distance: (time) => 0.15 + motion(part(time)),
      current: motionDiode.referenceCurrent,
      diode: motionDiode,
      feedbackParameter: 0.9,
    },
    drive: (time) => volts(part(time)),
    driveReading: "target",
    known: { wavelength: infrared },
    truth: {
      ...motionTruth,
      frequency: truth(frequency, "Hz", "Periods per second"),
      peakToPeak: truth(
        extremesOf(motion).peakToPeak,
        "m",
        "From turning point to turning point",
      ),
      ...recipe.truth,
    },
  });
}

/** A sine, in m by the part of the period. */
function makeSine(
  name: string,
  amplitude: number,
  frequency: number,
  seed: number,
): MadeDataset {
  return makeSpeaker({
    name,
    what: `Loudspeaker on a sine of ${frequency} Hz; CH2 is its voltage`,
    frequency,
    motion: (part) => amplitude * Math.sin(turn * part),
    volts: (part) => amplitude / 3e-6 * Math.sin(turn * part + 0.3),
    samplingRate: frequency > 200 ? 50e3 : 25e3,
    duration: frequency > 200 ? 0.025 : 0.08,
    seed,
    truth: {
      amplitude: truth(amplitude, "m", "Amplitude (half of peak to peak)"),
    },
  });
}

/** A triangle whose rise takes more of the period than its fall, corners round. */
function lopsided(part: number): number {
  const rise = 0.7;
  const orders = 9;
  let sum = 0;
  for (let n = 1; n <= orders; n++) {
    const taper = Math.sin(Math.PI * n / (orders + 1)) /
      (Math.PI * n / (orders + 1));
    sum += taper * Math.sin(n * Math.PI * rise) * Math.sin(n * turn * part) /
      (n * n * Math.PI * Math.PI * rise * (1 - rise));
  }
  return sum;
}

/** The answer of a cone to a square: over, back, at rest. */
const square = {
  frequency: 20,
  height: 0.9e-6,
  naturalFrequency: 140,
  dampingRatio: 0.25,
};

function squareAnswer(part: number): number {
  const { height, naturalFrequency, dampingRatio, frequency } = square;
  const half = part < 0.5 ? part : part - 0.5;
  const sign = part < 0.5 ? 1 : -1;
  const time = half / frequency;
  const damped = turn * naturalFrequency * Math.sqrt(1 - dampingRatio ** 2);
  const decay = Math.exp(-dampingRatio * turn * naturalFrequency * time);
  const ring = decay *
    (Math.cos(damped * time) +
      dampingRatio / Math.sqrt(1 - dampingRatio ** 2) *
        Math.sin(damped * time));
  return sign * height * (0.5 - ring);
}

/** A square with rounded edges, of which the fall is steeper than the rise. */
const soft = {
  frequency: 60,
  height: 1.1e-6,
  /** Times of the edges, in s. */
  rise: 7e-3,
  fall: 5e-3,
};

/** Height of the square with hard edges: 2.3 fringes, in m. */
const hardHeight = 0.9e-6;

/** Up from 0, a level, down: edges whose speed is a raised cosine. */
function softSquare(part: number): number {
  const { frequency, height, rise, fall } = soft;
  const time = part / frequency;
  const half = 0.5 / frequency;
  const edge = (at: number, long: number) => {
    const over = Math.min(1, at / long);
    return over - Math.sin(turn * over) / turn;
  };
  return height *
    (time < half ? edge(time, rise) : 1 - edge(time - half, fall));
}

/**
 * From 10 % to 90 % of such an edge, in parts of its time: 1 - 2x, where
 * x - sin(2πx)/(2π) = 0.1.
 */
const tenToNinety = 0.482188;

/** The loudspeaker at several amplitudes, frequencies and waveforms. */
export function makeSpeakers(): MadeDataset[] {
  const peak = 2.4e-6;
  const { rise } = extremesOf(lopsided);
  const { dampingRatio, height, naturalFrequency } = square;
  return [
    makeSine("speaker-small", 0.43e-6, 62, 2671),
    makeSine("speaker-large", 2.35e-6, 62, 2672),
    makeSine("speaker-fast", 0.81e-6, 290, 2673),
    makeSpeaker({
      name: "speaker-lopsided",
      what:
        "Loudspeaker on a lopsided ramp of 31 Hz that rises for two thirds of the period; CH2 is its voltage",
      frequency: 31,
      motion: (part) => peak * lopsided(part),
      volts: (part) => 0.8 * lopsided(part),
      samplingRate: 20e3,
      duration: 0.165,
      seed: 2674,
      truth: {
        risingPart: truth(rise, "1", "Part of the period in which it recedes"),
      },
    }),
    makeSpeaker({
      name: "speaker-square",
      what:
        "Loudspeaker on a square of 20 Hz: it overshoots and rings at each edge; CH2 is its voltage",
      frequency: square.frequency,
      motion: squareAnswer,
      volts: (part) => part < 0.5 ? 0.5 : -0.5,
      samplingRate: 20e3,
      duration: 0.075,
      seed: 2675,
      truth: {
        height: truth(height, "m", "From rest to rest"),
        overshoot: truth(
          Math.exp(-Math.PI * dampingRatio / Math.sqrt(1 - dampingRatio ** 2)),
          "1",
          "Overshoot over the height",
        ),
        naturalFrequency: truth(naturalFrequency, "Hz", "Of the cone"),
        dampingRatio: truth(dampingRatio, "1", "Damping ratio ζ"),
      },
    }),
    makeSpeaker({
      name: "speaker-soft",
      what:
        "Loudspeaker on a square of 60 Hz with rounded edges, the falling one steeper; CH2 is its voltage",
      frequency: soft.frequency,
      motion: softSquare,
      volts: (part) => 0.4e6 * softSquare(part) - 0.22,
      samplingRate: 25e3,
      duration: 0.09,
      seed: 2676,
      truth: {
        height: truth(soft.height, "m", "From rest to rest"),
        riseTime: truth(soft.rise * tenToNinety, "s", "From 10 % to 90 %"),
        fallTime: truth(soft.fall * tenToNinety, "s", "From 90 % to 10 %"),
      },
    }),
    makeSpeaker({
      name: "speaker-hard",
      what:
        "A light mirror on a square of 60 Hz, from end to end within a sample: its fringes cannot be followed; CH2 is its voltage",
      frequency: soft.frequency,
      motion: (part) =>
        hardHeight *
        Math.max(
          0,
          Math.min(1, part < 0.5 ? part / 0.001 : 1 - (part - 0.5) / 0.001),
        ),
      volts: (part) => part < 0.5 ? 0.22 : -0.22,
      samplingRate: 25e3,
      duration: 0.06,
      seed: 2677,
      truth: { height: truth(hardHeight, "m", "From rest to rest") },
    }),
  ];
}

/** A motor's disc, grazed by the beam, turning one way and the other. */
export function makeMotors(): MadeDataset[] {
  const angle = 78.2 / 180 * Math.PI;
  return ([["motor-away", 0.0196, 2681], [
    "motor-back",
    -0.0147,
    2682,
  ]] as const)
    .map(([name, speed, seed]) => {
      const along = speed * Math.cos(angle);
      return makeScopeCapture({
        name,
        what: `Disc of a motor, grazed by the beam, turning ${
          speed > 0 ? "away" : "the other way"
        }`,
        samplingRate: 100e3,
        duration: 0.12,
        simulated: {
          distance: (time) => 0.11 + along * time,
          current: rangingDiode.referenceCurrent,
          diode: rangingDiode,
          feedbackParameter: 1.2,
          speckle: {
            contrast: 0.7,
            correlationLength: 60e-6,
            coordinate: (time) => Math.abs(speed) * time,
          },
        },
        drive: null,
        driveReading: "target",
        seed,
        known: {
          wavelength: red,
          angle: known(
            78 / 180 * Math.PI,
            0.3 / 180 * Math.PI,
            "rad",
            "Between beam and velocity, by protractor",
          ),
        },
        truth: {
          wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
          speed: truth(Math.abs(speed), "m/s", "Speed of the surface"),
          speedAlongBeam: truth(along, "m/s", "Along the beam, receding"),
          angle: truth(angle, "rad", "Between beam and velocity"),
        },
      });
    });
}

/** The motor's leads are swapped while it runs; a finger stops its disc. */
export function makeTurningMotors(): MadeDataset[] {
  const angle = 78.2 / 180 * Math.PI;
  const along = Math.cos(angle);
  const [before, after, swapped, settled] = [0.0183, -0.0138, 0.05, 0.09];
  const slowing = (after - before) / (settled - swapped);
  const turning = (time: number) => {
    const t = Math.max(0, Math.min(time, settled) - swapped);
    return before * Math.min(time, swapped) + (before + slowing * t / 2) * t +
      after * Math.max(0, time - settled);
  };
  const [speed, stopped, freed] = [0.0163, 0.047, 0.081];
  const stopping = (time: number) =>
    speed * (Math.min(time, stopped) + Math.max(0, time - freed));
  const seconds = (value: number, what: string) => truth(value, "s", what);
  const cases = [{
    name: "motor-turns",
    what:
      "Disc of a motor, grazed by the beam: its leads are swapped while it runs, and it turns round",
    way: turning,
    seed: 2683,
    truth: {
      highestSpeed: truth(before, "m/s", "Speed before the leads are swapped"),
      turningTime: seconds(
        swapped - before / slowing,
        "When the surface turns round",
      ),
    },
  }, {
    name: "motor-stops",
    what:
      "Disc of a motor, grazed by the beam: a finger stops it at once, and lets it go",
    way: stopping,
    seed: 2685,
    truth: {
      highestSpeed: truth(speed, "m/s", "Speed while it turns"),
      stopTime: seconds(stopped, "When the finger stops it"),
      startTime: seconds(freed, "When the finger lets it go"),
    },
  }];
  return cases.map(({ name, what, way, seed, truth: own }) =>
    makeScopeCapture({
      name,
      what,
      samplingRate: 100e3,
      duration: 0.12,
      simulated: {
        distance: (time) => 0.11 + along * way(time),
        current: rangingDiode.referenceCurrent,
        diode: rangingDiode,
        feedbackParameter: 1.2,
      },
      drive: null,
      driveReading: "target",
      seed,
      known: {
        wavelength: red,
        angle: known(
          78 / 180 * Math.PI,
          0.3 / 180 * Math.PI,
          "rad",
          "Between beam and velocity, by protractor",
        ),
      },
      truth: {
        wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
        angle: truth(angle, "rad", "Between beam and velocity"),
        ...own,
      },
    })
  );
}

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

/** A tap on the table, card at rest. */
export function makeTap(): MadeDataset {
  const frequency = 52;
  const decayTime = 0.09;
  const amplitude = 2.4e-6;
  const tapped = 0.015;
  // A hammer is no needle: the table takes about a millisecond to start.
  const start = 1e-3;
  return makeScopeCapture({
    name: "tap",
    what: "Card at rest, a tap on the table after 15 ms",
    samplingRate: 25e3,
    duration: 0.2,
    simulated: {
      distance: (time) => {
        const since = time - tapped;
        if (since < 0) return 0.12;
        return 0.12 + amplitude * (1 - Math.exp(-((since / start) ** 2))) *
            Math.exp(-since / decayTime) * Math.sin(turn * frequency * since);
      },
      current: rangingDiode.referenceCurrent,
      diode: rangingDiode,
      feedbackParameter: 0.8,
    },
    drive: null,
    driveReading: "target",
    seed: 2696,
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
      tapTime: truth(tapped, "s", "Tap after the first sample"),
      initialAmplitude: truth(amplitude, "m", "Amplitude at the tap"),
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
  let [low, high] = [Infinity, -Infinity];
  for (const value of light) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  const random = createRandom(2692);
  // More light means fewer carriers, and a lower voltage.
  const volts = light.map((value) =>
    -junctionGain *
    (junctionSwing * (2 * value - low - high) / (high - low) +
      1.6e-6 * random.normal())
  );
  return {
    bytes: writeText(
      ["Origin: simulated teaching bench", "Sample interval: 40 µs"],
      [{ heading: "CH1 (V)", samples: volts, unit: 1, digits: 5 }],
      { delimiter: ",", decimal: ".", lineEnd: "\n", byteOrderMark: false },
    ),
    entry: {
      name: "junction",
      series: "afternoon",
      file: "junction.csv",
      what:
        "Loudspeaker on a sine of 87 Hz, seen by the junction voltage of the red diode behind a gain of 1000",
      format:
        "delimited text: metadata lines, one column, sample interval in the metadata",
      samplingRate,
      sampleCount: capture.sampleCount,
      reading: { channels: { CH1: "junction voltage" } },
      known: { wavelength: red },
      truth: {
        wavelength: truth(rangingDiode.wavelength, "m", "True"),
        amplitude: truth(amplitude, "m", "Amplitude (peak)"),
        frequency: truth(frequency, "Hz", "Periods per second"),
      },
    },
  };
}
