import { motionDiode } from "./bench.ts";
import { type MadeDataset, type ManifestValue, truth } from "./manifest.ts";
import { infrared, makeScopeCapture, motionTruth } from "./scope_capture.ts";

const turn = 2 * Math.PI;

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
  /** What moves beside it, in m by the time. */
  readonly drift?: (time: number) => number;
  readonly samplingRate: number;
  readonly duration: number;
  readonly seed: number;
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

function makeSpeaker(recipe: SpeakerRecipe): MadeDataset {
  const { frequency, motion, volts, drift = () => 0 } = recipe;
  const part = (time: number) => (frequency * time + 0.17) % 1;
  return makeScopeCapture({
    ...recipe,
    simulated: {
      distance: (time) => 0.15 + motion(part(time)) + drift(time),
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

/** What the air of a heater does to the way of the light, in m. */
function draught(time: number): number {
  return 0.83e-6 * Math.sin(turn * 2.7 * time + 0.4) +
    0.29e-6 * Math.sin(turn * 6.1 * time + 2.2) + 1.4e-6 * time;
}

/** A sine in moving air. */
function makeDraught(): MadeDataset {
  const [amplitude, frequency] = [1.19e-6, 62];
  return makeSpeaker({
    name: "speaker-draught",
    what:
      "Loudspeaker on a sine of 62 Hz, warm air of a heater in the beam: the fringes wander by micrometres; CH2 is its voltage",
    frequency,
    motion: (part) => amplitude * Math.sin(turn * part),
    volts: (part) => amplitude / 3e-6 * Math.sin(turn * part + 0.3),
    drift: draught,
    samplingRate: 10e3,
    duration: 0.3,
    seed: 2678,
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
    makeDraught(),
  ];
}
