import type { FileOutcome } from "../../batch/mod.ts";
import {
  type Capture,
  type CaptureStream,
  openCaptureStream,
} from "../../capture/mod.ts";
import { printReport } from "../../display/mod.ts";
import {
  type CaptureMeasurements,
  type CaptureStreamMeasurements,
  measureCapture,
  type MeasureCaptureOptions,
  measureCaptureStream,
} from "../../explore/mod.ts";
import { loadCalibrationRecord, tuningFromRecord } from "../../record/mod.ts";
import { findTargets } from "../../range/mod.ts";
import type { Result, Warning } from "../../result/mod.ts";
import {
  checkChannels,
  converted,
  readAsAsked,
  readingOptions,
  readPart,
} from "../capture/mod.ts";
import { errorInWords } from "../task/mod.ts";
import type { MeasureTask } from "./arguments.ts";

/** An outcome with the text that a person reads. */
export interface ShownOutcome {
  readonly outcome: FileOutcome;
  readonly text: string;
}

/**
 * Measures one file. Never throws: what went wrong stands in the outcome.
 *
 * @param file Path of the capture.
 * @param task How to measure.
 * @returns The outcome with its text.
 */
export async function measureFile(
  file: string,
  task: MeasureTask,
): Promise<ShownOutcome> {
  try {
    const { warnings, check, recognition, results } = await measured(
      file,
      task,
      await optionsOf(task),
    );
    const reports: Result[] = [check, ...results];
    if (results.length === 0) {
      return failed(file, {
        name: "NotMeasurableError",
        message: [
          ...warnings.map(({ message }) => `${message}.`),
          recognition.reason,
          recognition.nextStep,
        ].join(" "),
      }, recognition);
    }
    return {
      outcome: {
        file,
        status: "measured",
        measurement: task.options.measurement ?? recognition.measurement,
        reason: recognition.reason,
        reports: reports.map((result) =>
          JSON.parse(printReport(result, { format: "json" }))
        ),
        error: null,
      },
      text: [
        `== ${file}`,
        task.options.measurement === undefined
          ? `Taken for ${recognition.measurement}: ${recognition.reason}`
          : `Measured as ${task.options.measurement}, as asked.`,
        ...reports.map((result) => printReport(result)),
        // A level alone is a number for the next step.
        ...(results.some(({ kind }) => kind === "level.level")
          ? [`Next: ${recognition.nextStep}`]
          : []),
      ].join("\n\n"),
    };
  } catch (error) {
    return failed(file, {
      name: error instanceof Error ? error.name : "Error",
      message: errorInWords(error),
    }, null);
  }
}

/** Samples of a part of a large file that is taken into memory (1). */
const longestPart = 1 << 26;

/** Measures a file in memory, or block by block where it is larger than asked. */
async function measured(
  file: string,
  task: MeasureTask,
  options: MeasureCaptureOptions,
): Promise<
  & (CaptureMeasurements | CaptureStreamMeasurements)
  & { readonly warnings: readonly Warning[] }
> {
  if (await sizeOf(file) <= task.streamAbove) {
    const capture = converted(await readAsAsked(file, task), task.conversion);
    const found = measureCapture(capture, options);
    return {
      ...found,
      results: task.targets === true
        ? [...found.results, targetsOf(capture, options)]
        : found.results,
      warnings: capture.warnings,
    };
  }
  if (task.conversion !== undefined) {
    throw new RangeError(
      `Cannot convert the drive of '${file}' block by block: cut the part out that is used, or raise '--stream-above'`,
    );
  }
  using stream = await openCaptureStream(
    file,
    await readingOptions(file, task),
  );
  await checkStream(file, stream, task);
  if (Object.keys(task.window).length > 0) {
    const part = await readPart(file, stream, task.window, longestPart);
    return { ...measureCapture(part, options), warnings: stream.warnings };
  }
  return {
    ...await measureCaptureStream(stream, options),
    warnings: stream.warnings,
  };
}

/** The targets on the ramps of a capture. */
function targetsOf(
  capture: Capture,
  { tuning, currentPerVoltage, currentOffset, drive }: MeasureCaptureOptions,
) {
  return findTargets(capture, {
    tuning: tuning ?? null,
    ...(currentPerVoltage === undefined ? {} : { currentPerVoltage }),
    ...(currentOffset === undefined ? {} : { currentOffset }),
    ...(drive === undefined ? {} : { drive }),
  });
}

/** Size of a capture file, in bytes; of a SigMF pair, that of its samples. */
async function sizeOf(file: string): Promise<number> {
  const { size } = await Deno.stat(file);
  if (!file.endsWith(".sigmf-meta")) return size;
  const samples = file.replace(/meta$/, "data");
  return await Deno.stat(samples).then(({ size }) => size, () => size);
}

/** The options as given; the tuning from the record, where one is named. */
async function optionsOf(
  { options, record, wavelength }: MeasureTask,
): Promise<MeasureCaptureOptions> {
  if (record === null) return { ...options, wavelength };
  const tuning = tuningFromRecord(await loadCalibrationRecord(record));
  return { ...options, wavelength, tuning };
}

/** The channels of a stream must be such as can be measured. */
async function checkStream(
  file: string,
  stream: CaptureStream,
  task: MeasureTask,
): Promise<void> {
  for await (const { capture } of stream.blocks({ blockLength: 16 })) {
    return checkChannels(file, capture, task);
  }
}

/** What the library says of options, in the words of the shell. */
function asTyped(message: string): string {
  return message.replaceAll(
    /pass measurement: "([a-z-]+)[^"]*"/g,
    "add '--as $1'",
  );
}

function failed(
  file: string,
  error: { name: string; message: string },
  recognition: { measurement: string; reason: string } | null,
): ShownOutcome {
  return {
    outcome: {
      file,
      status: "failed",
      measurement: recognition?.measurement ?? null,
      reason: recognition?.reason ?? null,
      reports: [],
      error,
    },
    text: `== ${file}\n\nNot measured. ${asTyped(error.message)}`,
  };
}
