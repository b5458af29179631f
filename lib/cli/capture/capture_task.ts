import type {
  MeasureCaptureOptions,
  MeasurementKind,
} from "../../explore/mod.ts";
import type { FlagValues } from "../task/mod.ts";
import { UsageError } from "../task/mod.ts";
import type { captureFlags } from "./capture_flags.ts";

/** Which channel carries what, as typed. */
export interface ChannelChoice {
  /** Channel with the monitor signal, by name or number from 1, or `null`. */
  readonly monitor: string | null;
  /** Channel with the diode's junction voltage, likewise. */
  readonly junction: string | null;
  /** Channel with the drive, by name or number from 1, or `null`. */
  readonly drive: string | null;
  /** Whether the scale of a drive channel in volts was given. */
  readonly scaled: boolean;
  /** Whether the drive may stay in volts: it moves the target. */
  readonly moves: boolean;
}

/** How to read and measure a capture; a plain object, so that a worker can have it. */
export interface CaptureTask {
  readonly channels: ChannelChoice;
  /** Sampling rate, in Hz, where it was given, or `null`. */
  readonly samplingRate: number | null;
  /** Part of the capture that is used, in s; empty for all of it. */
  readonly window: { readonly from?: number; readonly to?: number };
  /** What was given of the options of `measureCapture`, and nothing else. */
  readonly options: Partial<MeasureCaptureOptions>;
  /** Calibration record to take the tuning from, or `null`. */
  readonly record: string | null;
}

const kinds: Readonly<Record<string, MeasurementKind>> = {
  distance: "distance",
  motion: "motion",
  speed: "speed",
  level: "level",
  "light-current": "light-current curve",
};

/**
 * What was typed, as a task for captures. Only what was given stands in it: the
 * library or a template decides the rest.
 *
 * @param values The flags.
 * @param task What is done, as in "Cannot measure as …".
 */
export function captureTask(
  values: FlagValues<typeof captureFlags>,
  task: string,
): CaptureTask {
  const drive = statedDrive(values, task);
  const { from, to } = values;
  if (from !== undefined && to !== undefined && !(from < to)) {
    throw new UsageError(
      `Cannot ${task} as '--from' must lie before '--to': they are ${from} s and ${to} s`,
    );
  }
  const perVoltage = values["current-per-voltage"];
  if (values["current-offset"] !== undefined && perVoltage === undefined) {
    throw new UsageError(
      `Cannot ${task} as '--current-offset' is given without '--current-per-voltage'`,
    );
  }
  if (drive !== undefined && values.drive !== undefined) {
    throw new UsageError(
      `Cannot ${task} as the drive is given twice: as a channel by '--drive' and as a waveform by '--drive-waveform'`,
    );
  }
  const kind = values.as ?? (drive === undefined ? undefined : "distance");
  const estimator = values["count-by"];
  return {
    channels: {
      monitor: values.monitor ?? null,
      junction: values.junction ?? null,
      drive: values.drive ?? null,
      scaled: typeof perVoltage === "number",
      moves: kind === "motion" || kind === "speed",
    },
    samplingRate: values["sampling-rate"] ?? null,
    window: given({ from, to }),
    options: given({
      wavelength: values.wavelength,
      wavelengthStandardUncertainty: values["wavelength-uncertainty"],
      refractiveIndex: values.index,
      measurement: kind === undefined ? undefined : kinds[kind],
      estimator: estimator === undefined
        ? undefined
        : estimator === "model-fit"
        ? "model fit" as const
        : "phase slope" as const,
      angle: values.angle,
      angleStandardUncertainty: values["angle-uncertainty"],
      couplingCorner: values["coupling-corner"],
      mainsFrequency: values.mains,
      currentPerVoltage: perVoltage,
      currentOffset: values["current-offset"],
      drive,
      tuning: statedTuning(values, task),
    }),
    record: values.record ?? null,
  };
}

function statedDrive(
  values: FlagValues<typeof captureFlags>,
  task: string,
): MeasureCaptureOptions["drive"] | undefined {
  const shape = values["drive-waveform"];
  const frequency = values["drive-frequency"];
  const span = values["drive-span"];
  if (shape === undefined && frequency === undefined && span === undefined) {
    return undefined;
  }
  if (shape === undefined || frequency === undefined || span === undefined) {
    throw new UsageError(
      `Cannot ${task} as a drive that was not captured needs all of '--drive-waveform', '--drive-frequency' and '--drive-span'`,
    );
  }
  return { shape, frequency, ...span };
}

function statedTuning(
  values: FlagValues<typeof captureFlags>,
  task: string,
): MeasureCaptureOptions["tuning"] | undefined {
  const { tuning: value, wavelength } = values;
  const uncertainty = values["tuning-uncertainty"];
  if (value === undefined) {
    if (uncertainty === undefined) return undefined;
    throw new UsageError(
      `Cannot ${task} as '--tuning-uncertainty' is given without '--tuning'`,
    );
  }
  if (values.record !== undefined) {
    throw new UsageError(
      `Cannot ${task} as the tuning is given twice: by '--tuning' and by '--record'`,
    );
  }
  if (wavelength === undefined) return undefined;
  return {
    tuning: { value, standardUncertainty: uncertainty ?? 0 },
    wavelength: {
      value: wavelength,
      standardUncertainty: values["wavelength-uncertainty"] ?? 0,
    },
  };
}

/** The same fields without those that are not given. */
function given<T extends object>(
  fields: T,
): { [K in keyof T]?: Exclude<T[K], undefined> } {
  return Object.fromEntries(
    Object.entries(fields).filter(([, value]) => value !== undefined),
  ) as { [K in keyof T]?: Exclude<T[K], undefined> };
}
