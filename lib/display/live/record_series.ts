import { join } from "@std/path/join";
import {
  type Capture,
  checkCapture,
  findChannel,
  writeCapture,
} from "../../capture/mod.ts";
import { NotMeasurableError } from "../../errors/mod.ts";
import { writeWhole } from "../../files/mod.ts";
import {
  captureName,
  createLiveSeries,
  inMillimetres,
  isLiveSource,
  listName,
  listText,
  type LiveSeries,
  type LiveSource,
  type LiveView,
  type SeriesReading,
} from "../../live/mod.ts";
import {
  functionOption,
  listOption,
  type Option,
  optional,
  optionOf,
  pickOptions,
  readOptions,
  requireForm,
} from "../../options/mod.ts";
import { findRamps } from "../../range/mod.ts";
import { type Shown, warn, type Warning } from "../../result/mod.ts";
import { currentCell } from "../cell.ts";
import { watch, type WatchOptions, watchSpec } from "./watch.ts";

/** A step of a series, before its capture is taken. */
export interface SeriesStep {
  /** Known distance, in m. */
  readonly distance: number;
  /** Number of the step, from 1. */
  readonly number: number;
  /** Steps in all. */
  readonly total: number;
  /** Attempt at this step, from 1. */
  readonly attempt: number;
  /** Why the attempt before was not kept; `""` for the first. */
  readonly reason: string;
}

/** Options of {@linkcode recordSeries}. */
export interface RecordSeriesOptions extends
  Omit<
    WatchOptions,
    | "take"
    | "record"
    | "proximity"
    | "speed"
    | "distance"
    | "displacement"
  > {
  /** Known distances, in m, in the order in which they are set. */
  distances: readonly (number | string)[];
  /**
   * Standard uncertainty of each distance, in m.
   *
   * @default {0.2e-3}
   */
  standardUncertainty?: number | string;
  /** Folder of the captures and the list; it is made. */
  folder: string;
  /** Length of each capture, in s. @default {0.4} */
  captureDuration?: number | string;
  /**
   * What starts each capture; `null` for nothing.
   *
   * @default {"drive"}
   */
  trigger?: "drive" | "level" | null;
  /**
   * Called before each capture; the distance is set when it resolves. `false`
   * leaves the distance out, `null` ends the series.
   *
   * @default {the person is asked}
   */
  ready?: (step: SeriesStep) => unknown;
}

/** Attempts at one distance. */
const mostAttempts = 3;
/** Strokes that a capture must have. */
const leastStrokes = 2;

const {
  interval,
  onPicture,
  signal,
  keep,
  window,
  duration,
  diode,
} = watchSpec;

export const recordSeriesSpec = {
  interval,
  onPicture,
  signal,
  keep,
  window,
  duration,
  diode,
  distances: listOption(
    "Known distances, in m.",
    optionOf.length("Known distance, in m.", "120mm"),
  ),
  standardUncertainty: optional(
    optionOf.lengthUncertainty(
      "Standard uncertainty of each distance, in m.",
      "0.2mm",
    ),
    0.2e-3,
  ),
  folder: optionOf.text("Folder of the captures and the list.", "readings"),
  captureDuration: optional(
    optionOf.time("Length of each capture, in s.", "0.4s"),
    0.4,
  ),
  trigger: optional(
    optionOf.choice("What starts each capture.", ["drive", "level"]),
    "drive" as "drive" | "level" | null,
    "drive",
  ),
  ready: optional(
    functionOption<(step: SeriesStep) => unknown>(
      "Called before each capture.",
    ),
    undefined,
    "the person is asked",
  ),
} satisfies Record<keyof RecordSeriesOptions, Option>;

/**
 * Leads through a series of captures at known distances, as a calibration of the
 * tuning needs them: for each distance it asks to set it, shows the live view until
 * the fringes are good, takes a capture from the start of a ramp, checks it, and
 * keeps it. What is not good is taken again. After each capture the list
 * `readings.csv` is written anew, so that a series that is ended early is kept.
 *
 * The list is what `readReferenceReadings` and `deno task new-calibration` read.
 *
 * @param source The live source: with a monitor signal and the drive current.
 * @param options Distances in m, folder, what is known of the diode.
 * @returns The readings that were kept, with their captures for `calibrateTuning`.
 * @throws {RangeError} If no channel carries the drive.
 *
 * @example
 * ```ts
 * import { createSimulatedBench } from "fringebook";
 * import { recordSeries } from "fringebook/live";
 * import { expect } from "vitest";
 *
 * const folder = await Deno.makeTempDir();
 * const bench = createSimulatedBench({
 *   pace: 50,
 *   focus: 0,
 *   motionAmplitude: 0,
 *   rampAmplitude: "3mA",
 * });
 * const series = await recordSeries(bench, {
 *   distances: ["80mm", "120mm"],
 *   folder,
 *   ready: ({ distance }) => {
 *     bench.distance = distance;
 *   },
 * });
 * expect(series.readings.map(({ file }) => file)).toEqual([
 *   "80mm.wav",
 *   "120mm.wav",
 * ]);
 * await Deno.remove(folder, { recursive: true });
 * ```
 */
export async function recordSeries(
  source: LiveSource,
  options: RecordSeriesOptions,
): Promise<LiveSeries & Shown> {
  const task = "record a series";
  requireForm(source, {
    what: "a live source",
    is: isLiveSource,
    remedy: "createSimulatedBench(…) and createPipeSource(…) make one",
    awaited: "await …",
  }, task);
  const read = readOptions(recordSeriesSpec, options, task);
  const { distances, folder, standardUncertainty, ready = askPerson } = read;
  const list = join(folder, listName);
  const readings: SeriesReading[] = [];
  const captures: Capture[] = [];
  const leftOut: number[] = [];
  const warnings: Warning[] = [];
  await Deno.mkdir(folder, { recursive: true });
  for (const [index, distance] of distances.entries()) {
    let reason = "";
    let isKept = false;
    let answer: unknown = true;
    for (let attempt = 1; attempt <= mostAttempts && !isKept; attempt++) {
      answer = await ready({
        distance,
        number: index + 1,
        total: distances.length,
        attempt,
        reason,
      });
      if (answer === false || answer === null) break;
      const view = await watch(source, {
        ...pickOptions(watchSpec, options),
        take: {
          duration: read.captureDuration,
          when: "good",
          trigger: read.trigger === null
            ? null
            : { on: read.trigger, before: 0 },
        },
      });
      const judged = judge(view);
      if (typeof judged === "string") {
        reason = judged;
        if (view.ended === "stopped") answer = null;
        if (view.ended === "stopped") break;
        continue;
      }
      const file = captureName(distance, readings);
      await writeCapture(join(folder, file), judged.capture);
      readings.push({
        file,
        distance,
        standardUncertainty,
        signalToNoise: judged.signalToNoise,
        strokes: judged.strokes,
        attempts: attempt,
      });
      captures.push(judged.capture);
      await writeWhole(list, listText(readings));
      isKept = true;
    }
    if (isKept) continue;
    if (answer === null) {
      leftOut.push(...distances.slice(index));
      break;
    }
    leftOut.push(distance);
    if (answer !== false) {
      warnings.push(warn(
        "not-kept",
        `No capture at ${inMillimetres(distance)} mm was kept: ${reason}`,
      ));
    }
  }
  if (leftOut.length > 0) {
    warnings.push(warn(
      "left-out",
      `${leftOut.length} of ${distances.length} distances were left out: ${
        leftOut.map(inMillimetres).join(", ")
      } mm`,
    ));
  }
  return createLiveSeries({
    folder,
    list,
    readings,
    captures,
    leftOut,
    wavelength: read.diode?.wavelength ?? null,
    warnings,
  });
}

/** Whether a capture may be kept; in words why not. */
function judge(view: LiveView):
  | string
  | {
    readonly capture: Capture;
    readonly signalToNoise: number;
    readonly strokes: number;
  } {
  const { taken: capture } = view;
  if (capture === null) return view.warnings[0]?.message ?? view.hint;
  const check = checkCapture(capture);
  const found = check.warnings.find(({ severity, code }) =>
    severity === "doubtful" && code !== "near-nyquist"
  );
  if (found !== undefined) return found.message;
  if (findChannel(capture, "drive current") === null) {
    return "no channel carries the drive current in A";
  }
  try {
    const { strokes } = findRamps(capture).diagnostics;
    if (strokes.length < leastStrokes) {
      return `it has ${strokes.length} strokes of the ramp: take longer captures`;
    }
    return {
      capture,
      signalToNoise: check.signalToNoise.value,
      strokes: strokes.length,
    };
  } catch (error) {
    if (error instanceof NotMeasurableError) return error.message;
    throw error;
  }
}

/** Asks in the cell, or in the terminal. */
async function askPerson(step: SeriesStep): Promise<boolean | null> {
  const { distance, number, total, reason } = step;
  const question = `${
    reason === "" ? "" : `Not kept: ${reason}. `
  }Step ${number} of ${total}: set the target to ${
    inMillimetres(distance)
  } mm, then press Enter ("skip" leaves it out, "end" ends the series):`;
  const cell = currentCell();
  const answer = cell?.requestInput !== undefined
    ? await cell.requestInput(`${question} `, false)
    : prompt(question) ?? "end";
  const word = answer.trim().toLowerCase();
  return word === "end" ? null : word !== "skip";
}
