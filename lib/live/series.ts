import { stringify } from "@std/csv/stringify";
import type { Capture } from "../capture/mod.ts";
import type { ReferencePoint } from "../range/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Result,
  type Shown,
  type Warning,
} from "../result/mod.ts";

/** One reading of a series that was kept. */
export interface SeriesReading {
  /** File of the capture, beside the list. */
  readonly file: string;
  /** Known distance, in m. */
  readonly distance: number;
  /** Its standard uncertainty, in m. */
  readonly standardUncertainty: number;
  /** Signal-to-noise ratio of the capture, in dB. */
  readonly signalToNoise: number;
  /** Strokes of the ramp on it. */
  readonly strokes: number;
  /** Attempts that it took. */
  readonly attempts: number;
}

/** A series of captures at known distances, as a calibration takes them. */
export interface LiveSeries extends Result {
  /** Chooses the presenter. */
  readonly kind: "live.series";
  /** Folder of captures and list. */
  readonly folder: string;
  /** The list, in the form that `readReferenceReadings` reads. */
  readonly list: string;
  /** Readings that were kept, in order. */
  readonly readings: readonly SeriesReading[];
  /** The same with their captures, for `calibrateTuning`. */
  readonly points: readonly ReferencePoint[];
  /** Distances that were left out, in m. */
  readonly leftOut: readonly number[];
  /** What to do with the list, as a command of the shell. */
  readonly next: string;
  /** None. */
  readonly diagnostics: Record<never, never>;
}

/** Name of the list in its folder. */
export const listName = "readings.csv";

/** A distance in mm, as it stands in lists and file names. */
export function inMillimetres(distance: number): string {
  return String(Number((1000 * distance).toPrecision(9)));
}

/** Name of the file of a capture; one of a repeated distance gets a number. */
export function captureName(
  distance: number,
  taken: readonly SeriesReading[],
): string {
  const same = taken.filter((reading) => reading.distance === distance).length;
  return `${inMillimetres(distance)}mm${same === 0 ? "" : `-${same + 1}`}.wav`;
}

const columns = ["file", "distance (mm)", "standard uncertainty (mm)"];

/** The list as text. */
export function listText(readings: readonly SeriesReading[]): string {
  return stringify(
    readings.map(({ file, distance, standardUncertainty }) => ({
      "file": file,
      "distance (mm)": inMillimetres(distance),
      "standard uncertainty (mm)": inMillimetres(standardUncertainty),
    })),
    { columns },
  );
}

/** Makes the result of a series. */
export function createLiveSeries(
  { folder, list, readings, captures, leftOut, wavelength, warnings }: {
    readonly folder: string;
    readonly list: string;
    readonly readings: readonly SeriesReading[];
    readonly captures: readonly Capture[];
    readonly leftOut: readonly number[];
    /** In m; `null` where it was not given. */
    readonly wavelength: number | null;
    readonly warnings: readonly Warning[];
  },
): LiveSeries & Shown {
  const light = wavelength === null
    ? "…nm"
    : `${inDigits(wavelength * 1e9, 9)}nm`;
  return createResult<LiveSeries>({
    kind: "live.series",
    folder,
    list,
    readings,
    points: readings.map(({ distance, standardUncertainty }, index) => ({
      capture: captures[index]!,
      distance,
      standardUncertainty,
    })),
    leftOut,
    next: `deno task new-calibration --readings ${list} --wavelength ${light}`,
    warnings,
    provenance: provenance({
      method: "recordSeries",
      captures: captures.map(({ source }) => source),
      options: { folder, leftOut },
    }),
    diagnostics: {},
  });
}
