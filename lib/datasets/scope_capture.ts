import { simulateCapture, type SimulateCaptureOptions } from "../laser/mod.ts";
import { createRandom } from "../signal/mod.ts";
import { airIndex, motionDiode, motionLabel, rangingLabel } from "./bench.ts";
import {
  known,
  type MadeDataset,
  type ManifestValue,
  truth,
} from "./manifest.ts";
import { writeText } from "./write_text.ts";

/** Laser current per voltage of the generator at the afternoon's bench, in A/V. */
export const generatorScale = 2.06e-3;
/** Standing current of the afternoon's red diode, in A. */
export const standingCurrent = 0.04;
/** A capture of a two-channel scope: `CH1` the monitor, `CH2` what drives. */
export interface ScopeRecipe {
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

/** Simulates a capture of the scope and writes it as the scope does. */
export function makeScopeCapture(recipe: ScopeRecipe): MadeDataset {
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

/** Wavelength of the near-infrared diode by its label. */
export const infrared = known(
  motionLabel.value,
  motionLabel.standardUncertainty,
  "m",
  "Label of the near-infrared diode",
);

/** Wavelength of the red diode by its label. */
export const red = known(
  rangingLabel.value,
  rangingLabel.standardUncertainty,
  "m",
  "Label of the red diode",
);

/** True wavelength of the near-infrared diode. */
export const motionTruth = {
  wavelength: truth(motionDiode.wavelength, "m", "True"),
};
