import type { FileOutcome } from "../../batch/mod.ts";
import {
  openCaptureStream,
  readCapture,
  type ReadCaptureOptions,
} from "../../capture/mod.ts";
import { printReport } from "../../display/mod.ts";
import {
  type CaptureMeasurements,
  type LongCaptureMeasurements,
  measureCapture,
  type MeasureCaptureOptions,
  measureLongCapture,
} from "../../explore/mod.ts";
import type { MeasureDistanceOptions } from "../../range/mod.ts";
import { loadCalibrationRecord, tuningFromRecord } from "../../record/mod.ts";
import type { Result, Warning } from "../../result/mod.ts";
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
      {
        wavelength: task.wavelength,
        wavelengthStandardUncertainty: task.wavelengthStandardUncertainty,
        measurement: task.measurement,
        tuning: await tuningOf(task),
        estimator: task.estimator,
        angle: task.angle,
        angleStandardUncertainty: task.angleStandardUncertainty,
        couplingCorner: task.couplingCorner,
        mainsFrequency: task.mainsFrequency,
      },
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
        measurement: task.measurement ?? recognition.measurement,
        reason: recognition.reason,
        reports: reports.map((result) =>
          JSON.parse(printReport(result, { format: "json" }))
        ),
        error: null,
      },
      text: [
        `== ${file}`,
        task.measurement === null
          ? `Taken for ${recognition.measurement}: ${recognition.reason}`
          : `Measured as ${task.measurement}, as asked.`,
        ...reports.map((result) => printReport(result)),
      ].join("\n\n"),
    };
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) {
      return failed(file, {
        name: "NotFound",
        message:
          `Cannot read '${file}' as there is no such file. Check the path`,
      }, null);
    }
    return failed(file, {
      name: error instanceof Error ? error.name : "Error",
      message: error instanceof Error ? error.message : String(error),
    }, null);
  }
}

/** Measures a file in memory, or block by block where it is larger than asked. */
async function measured(
  file: string,
  task: MeasureTask,
  options: MeasureCaptureOptions,
): Promise<
  & (CaptureMeasurements | LongCaptureMeasurements)
  & { readonly warnings: readonly Warning[] }
> {
  if (await sizeOf(file) <= task.streamAbove) {
    const capture = await readCapture(file, readingOptions(task));
    return { ...measureCapture(capture, options), warnings: capture.warnings };
  }
  using stream = await openCaptureStream(file, readingOptions(task));
  return {
    ...await measureLongCapture(stream, options),
    warnings: stream.warnings,
  };
}

/** Size of a capture file, in bytes; of a SigMF pair, that of its samples. */
async function sizeOf(file: string): Promise<number> {
  const { size } = await Deno.stat(file);
  if (!file.endsWith(".sigmf-meta")) return size;
  const samples = file.replace(/meta$/, "data");
  return await Deno.stat(samples).then(({ size }) => size, () => size);
}

/** The tuning from a record, else from the numbers given, else none. */
async function tuningOf(
  task: MeasureTask,
): Promise<MeasureDistanceOptions["tuning"] | null> {
  if (task.record !== null) {
    return tuningFromRecord(await loadCalibrationRecord(task.record));
  }
  if (task.tuning === null) return null;
  return {
    tuning: task.tuning,
    wavelength: {
      value: task.wavelength,
      standardUncertainty: task.wavelengthStandardUncertainty,
    },
  };
}

/** Reading options that the shell asked for. */
export function readingOptions(task: MeasureTask): ReadCaptureOptions {
  // The reader counts channels from 0, a person from 1.
  const key = (channel: string) =>
    /^\d+$/.test(channel) ? String(Number(channel) - 1) : channel;
  return {
    channels: {
      ...(task.monitor === null
        ? {}
        : { [key(task.monitor)]: "monitor signal" }),
      ...(task.drive === null ? {} : { [key(task.drive)]: "drive current" }),
    },
    ...(task.samplingRate === null ? {} : { samplingRate: task.samplingRate }),
  };
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
    text: `== ${file}\n\n${error.name}: ${error.message}`,
  };
}
