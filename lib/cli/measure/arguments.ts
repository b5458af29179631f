import { parseArgs } from "@std/cli/parse-args";
import { parseQuantity } from "../../capture/mod.ts";
import type { MeasurementKind } from "../../explore/mod.ts";
import type { MeasureStepsOptions } from "../../range/mod.ts";

/** What the shell asked for. */
export interface MeasureSettings {
  /** Files to measure. */
  readonly files: readonly string[];
  /** How to measure each; a plain object, so that a worker can have it. */
  readonly task: MeasureTask;
  /** Whether to print JSON lines. */
  readonly json: boolean;
  /** File that collects JSON lines and says what is done; `null` for none. */
  readonly output: string | null;
  /** Files measured at the same time. */
  readonly jobs: number;
}

/** How to measure one file. */
export interface MeasureTask {
  /** Channel with the monitor signal, by name or number from 1, or `null`. */
  readonly monitor: string | null;
  /** Channel with the drive current, by name or number from 1, or `null`. */
  readonly drive: string | null;
  /** Sampling rate, in Hz, where the file does not say it, or `null`. */
  readonly samplingRate: number | null;
  /** Wavelength, in m. */
  readonly wavelength: number;
  /** Its standard uncertainty, in m. */
  readonly wavelengthStandardUncertainty: number;
  /** What the captures are; `null` to recognise it. */
  readonly measurement: MeasurementKind | null;
  /** How the steps of a ramp are counted. */
  readonly estimator: NonNullable<MeasureStepsOptions["estimator"]>;
  /** Angle between beam and velocity, in rad; `null` where not given. */
  readonly angle: number | null;
  /** Its standard uncertainty, in rad. */
  readonly angleStandardUncertainty: number;
  /** Tuning, in m/A; `null` where not given. */
  readonly tuning: { value: number; standardUncertainty: number } | null;
  /** Calibration record to take the tuning from; `null` where not given. */
  readonly record: string | null;
  /** Corner of a coupling capacitor, in Hz; `null` for DC. */
  readonly couplingCorner: number | null;
  /** Mains frequency, in Hz. */
  readonly mainsFrequency: number;
  /** Files larger than this are measured block by block, in bytes. */
  readonly streamAbove: number;
}

/** The arguments make no sense; the message says which. */
export class UsageError extends Error {
  override readonly name = "UsageError";
}

const kinds: Record<string, MeasurementKind> = {
  distance: "distance",
  motion: "motion",
  speed: "speed",
  "light-current": "light-current curve",
};

const estimators = {
  "model-fit": "model fit",
  "phase-slope": "phase slope",
} as const;

/** How to call it. */
export const usage = `deno task measure FILE … [options]

  --wavelength 650nm              wavelength of the diode (needed)
  --wavelength-uncertainty 2nm    its standard uncertainty
  --as KIND                       ${Object.keys(kinds).join(", ")};
                                  recognised from the capture if left out
  --monitor 1                     channel with the monitor signal, by number
                                  from 1 or by name; recognised if left out
  --drive 2                       channel with the drive current
  --sampling-rate 200kHz          where the file does not say it
  --tuning 8.3e-9                 tuning coefficient, in m/A, for a distance
  --tuning-uncertainty 4e-11      its standard uncertainty, in m/A
  --record FILE                   calibration record to take the tuning from
  --count-by model-fit            how the steps of a ramp are counted: by a fit
                                  of the model (model-fit), or many times faster
                                  by the slope of the phase alone (phase-slope)
  --angle 78                      angle between beam and velocity, in degrees
  --angle-uncertainty 0.5         its standard uncertainty, in degrees
  --coupling-corner 2Hz           corner of the coupling capacitor of an
                                  AC-coupled recording
  --mains 50                      mains frequency, in Hz
  --json                          one JSON line per file
  --output FILE                   append the JSON lines to FILE; files that it
                                  already holds are skipped
  --jobs 2                        files measured at the same time
  --stream-above 500MB            larger files are measured block by block, in
                                  bounded memory (default 500MB)
  --shard 1/4                     only every 4th file, from the 1st: for batch
                                  schedulers
Exit codes: 0 all measured, 1 some failed, 2 wrong arguments.`;

const names = [
  "wavelength",
  "wavelength-uncertainty",
  "as",
  "monitor",
  "drive",
  "sampling-rate",
  "tuning",
  "tuning-uncertainty",
  "record",
  "count-by",
  "angle",
  "angle-uncertainty",
  "coupling-corner",
  "mains",
  "output",
  "jobs",
  "stream-above",
  "shard",
];

/**
 * Reads the arguments of the shell.
 *
 * @param given The arguments.
 * @returns The settings, or `null` where help was asked for.
 * @throws {UsageError} If they make no sense.
 */
export function readArguments(
  given: readonly string[],
): MeasureSettings | null {
  const unknown: string[] = [];
  const flags = parseArgs([...given], {
    string: names,
    boolean: ["json", "help"],
    unknown: (argument: string) => {
      if (!argument.startsWith("-")) return true;
      unknown.push(argument);
      return false;
    },
  });
  if (flags.help) return null;
  if (unknown.length > 0) {
    throw new UsageError(`Unknown option ${unknown.join(", ")}`);
  }
  const files = flags._.map(String);
  if (files.length === 0) throw new UsageError("No capture file given");
  const text = (name: string): string | null => {
    const value = (flags as Record<string, unknown>)[name];
    return typeof value === "string" && value !== "" ? value : null;
  };
  const number = (name: string, unit: string, otherwise: number) => {
    const value = text(name);
    return value === null ? otherwise : inUnit(name, value, unit);
  };
  const wavelength = number("wavelength", "m", NaN);
  if (!(wavelength > 0)) {
    throw new UsageError("No wavelength given: add, say, --wavelength 650nm");
  }
  const measurement = text("as");
  if (measurement !== null && kinds[measurement] === undefined) {
    throw new UsageError(
      `--as is '${measurement}': use ${Object.keys(kinds).join(", ")}`,
    );
  }
  const estimator = text("count-by") ?? "model-fit";
  if (!isEstimator(estimator)) {
    throw new UsageError(
      `--count-by is '${estimator}': use ${Object.keys(estimators).join(", ")}`,
    );
  }
  const tuning = number("tuning", "m/A", NaN);
  const degree = Math.PI / 180;
  const angle = number("angle", "", NaN);
  return {
    files: shardOf(files, text("shard")),
    task: {
      monitor: text("monitor"),
      drive: text("drive"),
      samplingRate: text("sampling-rate") === null
        ? null
        : number("sampling-rate", "Hz", NaN),
      wavelength,
      wavelengthStandardUncertainty: number("wavelength-uncertainty", "m", 0),
      measurement: measurement === null ? null : kinds[measurement]!,
      angle: Number.isNaN(angle) ? null : angle * degree,
      angleStandardUncertainty: number("angle-uncertainty", "", 0) * degree,
      tuning: Number.isNaN(tuning) ? null : {
        value: tuning,
        standardUncertainty: number("tuning-uncertainty", "m/A", 0),
      },
      record: text("record"),
      estimator: estimators[estimator],
      couplingCorner: text("coupling-corner") === null
        ? null
        : number("coupling-corner", "Hz", NaN),
      mainsFrequency: number("mains", "Hz", 50),
      streamAbove: sizeOf(text("stream-above") ?? "500MB"),
    },
    json: flags.json,
    output: text("output"),
    jobs: Math.max(1, Math.floor(number("jobs", "", 1))),
  };
}

function isEstimator(text: string): text is keyof typeof estimators {
  return Object.hasOwn(estimators, text);
}

/** A file size in bytes: a number, or one with kB, MB or GB. */
function sizeOf(text: string): number {
  const found = /^([0-9.]+)\s*(|k|M|G)B?$/.exec(text);
  const size = Number(found?.[1]) *
    ({ "": 1, k: 1e3, M: 1e6, G: 1e9 }[found?.[2] ?? ""] ?? NaN);
  if (size > 0) return size;
  throw new UsageError(
    `--stream-above is '${text}': give a size, say 500MB or 2GB`,
  );
}

/** A number, with or without its unit. */
function inUnit(name: string, text: string, unit: string): number {
  const bare = Number(text);
  if (!Number.isNaN(bare)) return bare;
  const quantity = parseQuantity(text);
  if (quantity === null || quantity.unit !== unit) {
    throw new UsageError(
      `--${name} is '${text}': give a number${
        unit === "" ? "" : ` in ${unit}, or with its unit`
      }`,
    );
  }
  return quantity.value;
}

/** The files of shard i of n, counted from 1. */
function shardOf(
  files: readonly string[],
  shard: string | null,
): readonly string[] {
  if (shard === null) return files;
  const [index = NaN, count = NaN] = shard.split("/").map(Number);
  if (!(Number.isInteger(index) && index >= 1 && index <= count)) {
    throw new UsageError(`--shard is '${shard}': use, say, 1/4`);
  }
  return files.filter((_, i) => i % count === index - 1);
}
