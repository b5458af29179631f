import { simulateCapture } from "../laser/mod.ts";
import type { RandomStream } from "../signal/mod.ts";
import {
  airIndex,
  motionDiode,
  motionLabel,
  rangingDiode,
  rangingLabel,
} from "./bench.ts";
import { known, type MadeDataset, truth } from "./manifest.ts";
import { writeText } from "./write_text.ts";
import { writeWav } from "./write_wav.ts";

const turn = 2 * Math.PI;

/** Volts at full scale of the audio interface. */
const fullScale = 2;

const redLabel = known(
  rangingLabel.value,
  rangingLabel.standardUncertainty,
  "m",
  "Label of the red diode",
);

const infraredLabel = known(
  motionLabel.value,
  motionLabel.standardUncertainty,
  "m",
  "Label of the near-infrared diode",
);

const coupling = known(
  2,
  0.05,
  "Hz",
  "Corner of the coupling capacitor in front of the audio interface",
);

const monitorReading = {
  name: "monitor",
  role: "monitor signal",
  unit: "V",
  scale: fullScale,
} as const;

/** What may differ from one loudspeaker capture to another. */
export interface VibrationRecipe {
  readonly name: string;
  readonly series: string;
  /** Amplitude, in m. */
  readonly amplitude: number;
  /** Frequency, in Hz. */
  readonly frequency: number;
  readonly seed: number | RandomStream;
}

/** A loudspeaker cone on a sine, at moderate feedback. */
export function makeVibration(
  recipe: VibrationRecipe = {
    name: "vibration",
    series: "motion",
    amplitude: 1.86e-6,
    frequency: 87.3,
    seed: 2641,
  },
): MadeDataset {
  const { frequency, amplitude } = recipe;
  const samplingRate = 96000;
  const sampleCount = 48000;
  const angle = (time: number) => turn * frequency * time + 0.4;
  const feedbackParameter = 1.7;
  const capture = simulateCapture({
    distance: (time) => 0.15 + amplitude * Math.sin(angle(time)),
    current: motionDiode.referenceCurrent,
    samplingRate,
    duration: sampleCount / samplingRate,
    feedbackParameter,
    modulationIndex: 0.01,
    refractiveIndex: airIndex,
    diode: motionDiode,
    frontEnd: { bandwidth: 40e3, couplingCorner: 2, voltageGain: 10 },
    noise: { signalToNoiseRatio: 30, shot: true, flicker: 2e-3 },
    drive: null,
    oversampling: 4,
    seed: recipe.seed,
  });
  const monitor = capture.channels[0]!.samples.map((v) => v / fullScale);
  // The cone follows its voltage with 25 degrees of lag.
  const loudspeaker = Float64Array.from(
    { length: sampleCount },
    (_, i) => 0.5 * Math.sin(angle(i / samplingRate) + 25 / 180 * Math.PI),
  );
  return {
    bytes: writeWav([monitor, loudspeaker], {
      samplingRate,
      bits: 24,
      comment: "simulated teaching bench: loudspeaker",
    }),
    entry: {
      name: recipe.name,
      series: recipe.series,
      file: `${recipe.name}.wav`,
      what: "Loudspeaker cone driven by a sine; channel 2 is its voltage",
      format: "WAV, 24 bit, 2 channels",
      samplingRate,
      sampleCount,
      reading: {
        channels: {
          "0": monitorReading,
          "1": {
            name: "loudspeaker",
            role: "other",
            unit: "V",
            scale: fullScale,
          },
        },
      },
      known: { wavelength: infraredLabel, couplingCorner: coupling },
      truth: {
        wavelength: truth(motionDiode.wavelength, "m", "True wavelength"),
        amplitude: truth(amplitude, "m", "Amplitude (half of peak to peak)"),
        frequency: truth(frequency, "Hz", "Frequency of the vibration"),
        peakSpeed: truth(turn * frequency * amplitude, "m/s", "Greatest speed"),
        fringesPerStroke: truth(
          4 * airIndex * amplitude / motionDiode.wavelength,
          "1",
          "Fringes from turning point to turning point",
        ),
        feedbackParameter: truth(feedbackParameter, "1", "C"),
        linewidthEnhancementFactor: truth(
          motionDiode.linewidthEnhancementFactor,
          "1",
          "α",
        ),
      },
    },
  };
}

/** A steel strip that is let go and rings down. */
export function makeRingDown(): MadeDataset {
  const samplingRate = 96000;
  const sampleCount = 76800;
  const frequency = 142.6;
  const decayTime = 0.118;
  const amplitude = 2.6e-6;
  const release = 0.04;
  const capture = simulateCapture({
    distance: (time) => {
      const since = time - release;
      if (since < 0) return 0.12 + amplitude;
      return 0.12 + amplitude * Math.exp(-since / decayTime) *
          Math.cos(turn * frequency * since);
    },
    samplingRate,
    duration: sampleCount / samplingRate,
    feedbackParameter: 0.7,
    modulationIndex: 0.01,
    refractiveIndex: airIndex,
    diode: rangingDiode,
    frontEnd: { bandwidth: 45e3, couplingCorner: 2, voltageGain: 10 },
    noise: { signalToNoiseRatio: 30, shot: true, flicker: 2e-3 },
    drive: null,
    oversampling: 4,
    seed: 2642,
  });
  return {
    bytes: writeWav([capture.channels[0]!.samples.map((v) => v / fullScale)], {
      samplingRate,
      bits: 16,
      comment: "simulated teaching bench: steel strip let go",
    }),
    entry: {
      name: "ring-down",
      series: "motion",
      file: "ring-down.wav",
      what: "Steel strip held aside, let go after 40 ms, rings down",
      format: "WAV, 16 bit, 1 channel",
      samplingRate,
      sampleCount,
      reading: { channels: { "0": monitorReading } },
      known: { wavelength: redLabel, couplingCorner: coupling },
      truth: {
        wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
        frequency: truth(frequency, "Hz", "Frequency of the damped vibration"),
        decayTime: truth(decayTime, "s", "Amplitude falls to 1/e"),
        dampingRatio: truth(
          1 / Math.hypot(1, turn * frequency * decayTime),
          "1",
          "Damping ratio ζ",
        ),
        qualityFactor: truth(
          Math.hypot(1, turn * frequency * decayTime) / 2,
          "1",
          "Quality factor 1/(2ζ)",
        ),
        initialAmplitude: truth(amplitude, "m", "Amplitude at the release"),
        releaseTime: truth(release, "s", "Release after the first sample"),
        feedbackParameter: truth(0.7, "1", "C"),
      },
    },
  };
}

/** A rough disc at three speeds: Doppler. */
export function makeRotatingDisc(): MadeDataset[] {
  return [7.53, 11.46, 16.08].map((turnsPerMinute, index) =>
    makeDiscCapture({
      name: `disc-${index + 1}`,
      series: "disc",
      what: `Rough disc at a steady speed, setting ${index + 1} of 3`,
      turnsPerMinute,
      angle: 78.2 / 180 * Math.PI,
      angleReading: {
        value: 78 / 180 * Math.PI,
        standardUncertainty: 0.3 / 180 * Math.PI,
      },
      seed: 2650 + index,
    })
  );
}

/** What may differ from one disc capture to another. */
export interface DiscRecipe {
  readonly name: string;
  readonly series: string;
  readonly what: string;
  /** Turns per minute. */
  readonly turnsPerMinute: number;
  /** True angle between beam and velocity, in rad. */
  readonly angle: number;
  /** What the protractor says of it, in rad. */
  readonly angleReading: { value: number; standardUncertainty: number };
  readonly seed: number | RandomStream;
}

/** A rough disc at one speed. */
export function makeDiscCapture(recipe: DiscRecipe): MadeDataset {
  const { name, series, what, turnsPerMinute, angle, seed } = recipe;
  const samplingRate = 192000;
  const sampleCount = 48000;
  const radius = 38e-3;
  const speed = turn * turnsPerMinute / 60 * radius;
  const along = speed * Math.cos(angle);
  const capture = simulateCapture({
    distance: (time) => 0.11 + along * time,
    samplingRate,
    duration: sampleCount / samplingRate,
    feedbackParameter: 0.5,
    modulationIndex: 0.008,
    refractiveIndex: airIndex,
    diode: rangingDiode,
    speckle: {
      contrast: 1,
      correlationLength: 60e-6,
      coordinate: (time) => speed * time,
    },
    frontEnd: { bandwidth: 90e3, couplingCorner: 100, voltageGain: 10 },
    noise: { signalToNoiseRatio: 20, shot: true, flicker: 5e-3 },
    drive: null,
    oversampling: 4,
    seed,
  });
  return {
    bytes: writeWav(
      [capture.channels[0]!.samples.map((v) => v / fullScale)],
      { samplingRate, bits: 16, comment: "simulated teaching bench: disc" },
    ),
    entry: {
      name,
      series,
      file: `${name}.wav`,
      what,
      format: "WAV, 16 bit, 1 channel",
      samplingRate,
      sampleCount,
      reading: { channels: { "0": monitorReading } },
      known: {
        wavelength: redLabel,
        radius: known(38e-3, 0.3e-3, "m", "Spot from the axis, by ruler"),
        angle: known(
          recipe.angleReading.value,
          recipe.angleReading.standardUncertainty,
          "rad",
          "Between beam and velocity, by protractor",
        ),
        rotationRate: known(
          Math.round(turnsPerMinute * 10) / 600,
          0.05 / 60,
          "Hz",
          "Turns per second, by stop watch over ten turns",
        ),
      },
      truth: {
        wavelength: truth(rangingDiode.wavelength, "m", "True wavelength"),
        speed: truth(speed, "m/s", "Speed of the surface at the spot"),
        speedAlongBeam: truth(along, "m/s", "Part along the beam, receding"),
        angle: truth(angle, "rad", "Between beam and velocity"),
        rotationRate: truth(turnsPerMinute / 60, "Hz", "Turns per second"),
        dopplerFrequency: truth(
          2 * airIndex * along / rangingDiode.wavelength,
          "Hz",
          "Doppler frequency of the spot's middle",
        ),
      },
    },
  };
}

/** A capture that nobody should measure with: clipped, hum, undersampled. */
export function makeBadCapture(): MadeDataset {
  const samplingRate = 8000;
  const sampleCount = 8000;
  const frequency = 211;
  const amplitude = 3.1e-6;
  const fastest = 2 * airIndex * turn * frequency * amplitude /
    rangingDiode.wavelength;
  const capture = simulateCapture({
    distance: (time) => 0.2 + amplitude * Math.sin(turn * frequency * time),
    samplingRate,
    duration: sampleCount / samplingRate,
    feedbackParameter: 1.2,
    modulationIndex: 0.01,
    refractiveIndex: airIndex,
    diode: rangingDiode,
    frontEnd: { couplingCorner: 2, voltageGain: 10 },
    noise: {
      signalToNoiseRatio: 12,
      hum: { amplitude: 0.35, frequency: 50, harmonics: [0.1, 0.3] },
    },
    digitiser: { bits: 8, low: -0.5, high: 0.5 },
    drive: null,
    seed: 2660,
  });
  return {
    bytes: writeText(
      ["Origin: simulated teaching bench", "Sample interval: 125 µs"],
      [{
        heading: "monitor [mV]",
        samples: capture.channels[0]!.samples,
        unit: 1e-3,
        digits: 1,
      }],
      { delimiter: ",", decimal: ".", lineEnd: "\r\n", byteOrderMark: false },
    ),
    entry: {
      name: "bad",
      series: "bad",
      file: "bad.csv",
      what:
        "Vibration recorded badly on purpose: clipped, mains hum, far too slow",
      format:
        "delimited text: metadata lines, one column, sample interval in the metadata",
      samplingRate,
      sampleCount,
      reading: {
        channels: {
          "0": { name: "monitor", fullScale: { low: -0.5, high: 0.49609375 } },
        },
      },
      known: { wavelength: redLabel },
      truth: {
        frequency: truth(frequency, "Hz", "Frequency of the vibration"),
        amplitude: truth(amplitude, "m", "Amplitude of the vibration"),
        greatestFringeRate: truth(
          fastest,
          "Hz",
          "Greatest fringe rate, above half the sampling rate",
        ),
        humFrequency: truth(50, "Hz", "Mains frequency"),
        humAmplitude: truth(0.35, "V", "Hum before clipping"),
      },
    },
  };
}
