import {
  benchOptions,
  handedOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireNumbers,
  requireRecords,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Result,
  type Shown,
  type Warning,
} from "../result/mod.ts";

/** All that a channel can carry. */
export const channelRoles = [
  "monitor signal",
  "junction voltage",
  "drive current",
  "drive voltage",
  "other",
] as const;

/**
 * What a channel carries. The `"junction voltage"` of the diode stands in for the
 * monitor signal where there is none: it falls where the light grows.
 */
export type ChannelRole = typeof channelRoles[number];

/**
 * Samples of one channel: single precision where the file holds that, double
 * precision otherwise.
 */
export type Samples = Float64Array | Float32Array;

/**
 * What makes the samples of a channel off together, so that no mean takes it away:
 * a table of the channel's own values, or the corner of a capacitor that was
 * reckoned in.
 */
export type ChannelDoubt =
  & {
    /** What it comes from, in plain words. */
    readonly source: string;
    /** Degrees of freedom (1). */
    readonly degreesOfFreedom: number;
    /** Whether it was found from this capture: another is off by something else. */
    readonly found: boolean;
  }
  & ({
    /** Values of the channel, rising, in its unit. */
    readonly at: readonly number[];
    /**
     * How far the channel is off at these values, in its unit: independent courses
     * of one standard deviation each.
     */
    readonly deviations: readonly (readonly number[])[];
  } | {
    /** First-order corner that was reckoned in, in Hz. */
    readonly corner: number;
    /** Its standard uncertainty, in Hz. */
    readonly standardUncertainty: number;
  });

/** One channel of a capture. */
export interface Channel {
  /** Name as in the file, such as `"CH1"`. */
  readonly name: string;
  /** What the channel carries. */
  readonly role: ChannelRole;
  /** SI unit of `samples`, without prefix, such as `"V"` or `"A"`. */
  readonly unit: string;
  /** Factor that turned the numbers of the file into `unit`. */
  readonly scale: number;
  /** The samples, in `unit`; missing values are `NaN`. */
  readonly samples: Samples;
  /**
   * Lowest and highest value the digitiser can give, in `unit`; `null` where
   * the file does not say.
   */
  readonly fullScale: { readonly low: number; readonly high: number } | null;
  /**
   * What makes all samples off together; left out where that is not known. Files do
   * not hold it.
   */
  readonly doubts?: readonly ChannelDoubt[];
}

/** Where a capture comes from. */
export interface CaptureSource {
  /** File name without folder; `null` for a capture made in memory. */
  readonly fileName: string | null;
  /**
   * SHA-256 of the file's bytes, in lower-case hex; `null` if there is no file
   * or it was not hashed.
   */
  readonly sha256: string | null;
  /** Format read, such as `"delimited text"` or `"WAV"`. */
  readonly format: string;
}

/**
 * Samples of one or more channels taken together. Shows itself as a table of its
 * channels and a figure of its traces.
 */
export interface Capture extends Result {
  /** Chooses the presenter. */
  readonly kind: "capture.capture";
  /** The channels, all of the same length. */
  readonly channels: readonly Channel[];
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples in each channel. */
  readonly sampleCount: number;
  /** Time of the first sample, ISO 8601; `null` where the file does not say. */
  readonly startTime: string | null;
  /** `key: value` text of the header; untrusted input. */
  readonly metadata: Readonly<Record<string, string>>;
  /** Where it comes from. */
  readonly source: CaptureSource;
  /** What the reader assumed or doubted. */
  readonly warnings: readonly Warning[];
  /** None. */
  readonly diagnostics: Record<never, never>;
}

/** One channel as {@linkcode createCapture} takes it; defaults are filled in. */
export interface ChannelInput {
  /** Name of the channel. */
  name: string;
  /** What the channel carries. */
  role: ChannelRole;
  /** SI unit of `samples`, without prefix. */
  unit: string;
  /** The samples, in `unit`. */
  samples: Samples;
  /**
   * Factor that turned the numbers of the file into `unit`.
   *
   * @default {1}
   */
  scale?: number;
  /**
   * Digitiser limits, in `unit`.
   *
   * @default {null}
   */
  fullScale?: { low: number; high: number } | null;
  /**
   * What makes all samples off together.
   *
   * @default {none that is known}
   */
  doubts?: readonly ChannelDoubt[];
}

/** Options of {@linkcode createCapture}. */
export interface CreateCaptureOptions {
  /** Samples per second, in Hz, or a text such as `"200kHz"`. */
  samplingRate: number | string;
  /**
   * Time of the first sample, ISO 8601.
   *
   * @default {null}
   */
  startTime?: string | null;
  /**
   * `key: value` text.
   *
   * @default {{}}
   */
  metadata?: Record<string, string>;
  /**
   * Where it comes from.
   *
   * @default {{ fileName: null, sha256: null, format: "memory" }}
   */
  source?: CaptureSource;
  /**
   * What the reader assumed or doubted.
   *
   * @default {[]}
   */
  warnings?: readonly Warning[];
}

export const createSpec = {
  samplingRate: benchOptions.samplingRate,
  startTime: optional(
    optionOf.text(
      "Time of the first sample, ISO 8601.",
      "2026-11-25T10:00:00Z",
    ),
    null,
  ),
  metadata: optional(
    handedOption<Record<string, string>>(
      "`key: value` text.",
      "an object",
      isObject,
    ),
    {},
  ),
  source: optional(
    handedOption<CaptureSource>(
      "Where it comes from.",
      "an object with 'fileName', 'sha256' and 'format'",
      isObject,
    ),
    { fileName: null, sha256: null, format: "memory" },
    '{ fileName: null, sha256: null, format: "memory" }',
  ),
  warnings: optional(
    handedOption<readonly Warning[]>(
      "What the reader assumed or doubted.",
      "a list",
      Array.isArray,
    ),
    [],
  ),
} satisfies Record<keyof CreateCaptureOptions, Option>;

function isObject(value: unknown): boolean {
  return typeof value === "object" && value !== null;
}

/**
 * Makes a capture from samples in memory.
 *
 * @param channels At least one channel; all of the same length (≥ 1 sample).
 * @param options Sampling rate in Hz, start time, metadata, source.
 * @returns The capture with all fields.
 * @throws {RangeError} If there is no channel, no sample, the lengths differ,
 * or the sampling rate is not a positive finite number.
 *
 * @example
 * ```ts
 * import { createCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "monitor",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.of(0, 0.1, 0.2),
 * }], { samplingRate: 1000 });
 * expect(capture.sampleCount).toBe(3);
 * ```
 */
export function createCapture(
  channels: readonly ChannelInput[],
  options: CreateCaptureOptions,
): Capture & Shown {
  const task = "make a capture";
  requireRecords(channels, "channels", ["name", "role", "samples"], task);
  const { samplingRate, startTime, metadata, source, warnings } = readOptions(
    createSpec,
    options,
    task,
  );
  const first = channels[0];
  if (first === undefined) {
    throw new RangeError("Cannot make a capture as it has no channel");
  }
  for (const { name, samples } of channels) {
    requireNumbers(samples, `samples of ${name}`, task);
  }
  const sampleCount = first.samples.length;
  if (sampleCount === 0) {
    throw new RangeError(
      `Cannot make a capture as channel '${first.name}' has no samples`,
    );
  }
  for (const { name, samples } of channels) {
    if (samples.length !== sampleCount) {
      throw new RangeError(
        `Cannot make a capture as its channels differ in length: '${first.name}' has ${sampleCount} samples, '${name}' has ${samples.length}`,
      );
    }
  }
  return createResult<Capture>({
    kind: "capture.capture",
    channels: channels.map(({ scale = 1, fullScale = null, ...channel }) => ({
      ...channel,
      scale,
      fullScale,
    })),
    samplingRate,
    sampleCount,
    startTime,
    metadata: { ...metadata },
    source,
    warnings,
    provenance: provenance({
      method: "createCapture",
      captures: [source],
      options: { samplingRate, startTime },
    }),
    diagnostics: {},
  });
}
