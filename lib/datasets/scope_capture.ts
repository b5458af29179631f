import type { Samples } from "../capture/mod.ts";
import { simulateCapture, type SimulateCaptureOptions } from "../laser/mod.ts";
import { createRandom } from "../signal/mod.ts";
import { airIndex, motionDiode, motionLabel, rangingLabel } from "./bench.ts";
import {
  known,
  type MadeDataset,
  type ManifestEntry,
  type ManifestValue,
  truth,
} from "./manifest.ts";
import { writeText } from "./write_text.ts";

/** Laser current per voltage of the generator at the afternoon's bench, in A/V. */
export const generatorScale = 2.06e-3;
/** Standing current of the afternoon's red diode, in A. */
export const standingCurrent = 0.04;
/** A triangle between -1 and 1, by the turns of the generator. */
export function triangle(turns: number): number {
  return 1 - 4 * Math.abs(turns - Math.floor(turns) - 0.5);
}

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
  readonly driveReading: "target" | "diode" | "voltage";
  /** Range of the second channel, in V. */
  readonly driveRange?: number;
  readonly seed: number;
  readonly series?: string;
  /** Digits of a voltage behind its first. */
  readonly digits?: number;
  readonly known: Readonly<Record<string, ManifestValue>>;
  readonly truth: Readonly<Record<string, ManifestValue>>;
}

/** Simulates a capture of the scope and writes it as the scope does. */
export function makeScopeCapture(recipe: ScopeRecipe): MadeDataset {
  const { samplingRate, duration, drive, driveRange = 4 } = recipe;
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
    // A converter of 12 bits, noise of its step.
    (_, i) =>
      Math.round(
        (drive(i / samplingRate) + driveRange / 4000 * random.normal()) *
          4096 / driveRange,
      ) * driveRange / 4096,
  );
  return scopeDataset({
    ...recipe,
    samples: [capture.channels[0]!.samples, ...(volts === null ? [] : [volts])],
    channels: {
      CH1: "monitor signal",
      ...(volts === null ? {} : {
        CH2: roleOf(recipe.driveReading),
      }),
    },
  });
}

/** What the second channel is to the reader. */
function roleOf(reading: ScopeRecipe["driveReading"]) {
  if (reading === "target") return "other" as const;
  if (reading === "voltage") return "drive voltage" as const;
  return {
    role: "drive current" as const,
    currentPerVoltage: generatorScale,
    currentOffset: standingCurrent,
  };
}

/** A file of the scope, with what is known of it. */
interface ScopeFile extends
  Pick<
    ScopeRecipe,
    "name" | "what" | "samplingRate" | "known" | "truth"
  > {
  /** Volts of `CH1`, and of `CH2` where there is one. */
  readonly samples: readonly Samples[];
  /** What the channels are to the reader. */
  readonly channels: NonNullable<ManifestEntry["reading"]["channels"]>;
  readonly series?: string;
  /** Digits of a voltage behind its first. */
  readonly digits?: number;
  /** Form of the file, in words. */
  readonly format?: string;
}

/** Writes what the scope recorded as the scope does. */
export function scopeDataset({
  name,
  what,
  samplingRate,
  known,
  truth,
  samples,
  channels,
  series = "afternoon",
  digits = 4,
  format =
    "delimited text: metadata lines, comma, sample interval in the metadata, channels named as a scope names them",
}: ScopeFile): MadeDataset {
  return {
    bytes: writeText(
      [
        "Origin: simulated teaching bench",
        `Sample interval: ${1e6 / samplingRate} µs`,
      ],
      samples.map((own, k) => ({
        heading: `CH${k + 1} (V)`,
        samples: own,
        unit: 1,
        digits,
      })),
      { delimiter: ",", decimal: ".", lineEnd: "\n", byteOrderMark: false },
    ),
    entry: {
      name,
      series,
      file: `${name}.csv`,
      what,
      format,
      samplingRate,
      sampleCount: samples[0]!.length,
      reading: { channels },
      known,
      truth,
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
