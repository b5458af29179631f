import { CaptureFormatError } from "../../errors/mod.ts";
import type { Shown, Warning } from "../../result/mod.ts";
import {
  type Capture,
  type CaptureSource,
  createCapture,
  type Samples,
} from "../capture.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import {
  type ChannelPlan,
  planChannels,
  withSamples,
} from "../make_channels.ts";
import { doubtfulRate } from "../doubtful_rate.ts";
import { statedRate } from "../option_names.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { place } from "../place.ts";
import { readTimeAxis } from "../text/time_axis.ts";
import { readBinary } from "./read_binary.ts";

/** Times looked at to find the sampling rate of a block-wise read. */
const timesLookedAt = 4096;

/** Position of the time channel, by option or by name; `null` for none. */
export function timeChannelOf(
  opened: OpenedBinary,
  options: ReadCaptureOptions,
): number | null {
  const { timeColumn } = options;
  if (timeColumn === undefined) return opened.timeChannel;
  if (timeColumn === null) return null;
  const at = typeof timeColumn === "number"
    ? timeColumn
    : opened.channels.findIndex(({ name }) => name === timeColumn);
  if (!Number.isInteger(at) || at < 0 || at >= opened.channels.length) {
    throw new RangeError(
      `Cannot use '${timeColumn}' as time: channels are ${
        opened.channels.map(({ name }, index) => `${index}: '${name}'`)
          .slice(0, 20).join(", ")
      }`,
    );
  }
  return at;
}

/** Sampling rate of the file, in Hz. */
export function rateOf(
  opened: OpenedBinary,
  options: ReadCaptureOptions,
  times: Samples | null,
  fileName: string | null,
  warnings: Warning[],
): number {
  const stated = statedRate(options);
  if (stated !== undefined) return stated;
  if (opened.samplingRate !== null) return opened.samplingRate;
  if (times !== null) {
    const axis = readTimeAxis(times);
    warnings.push(...axis.warnings);
    if (Number.isFinite(axis.samplingRate)) return axis.samplingRate;
  }
  throw new CaptureFormatError(
    `Cannot read ${
      place(fileName)
    } as ${opened.format} says no sampling rate: give 'samplingRate' in Hz`,
    { fileName },
  );
}

/** Factor of every channel of the file, the time channel's own included. */
export function scalesOf(
  opened: OpenedBinary,
  plans: readonly ChannelPlan[],
  time: number | null,
): number[] {
  const scales = plans.map(({ factor }) => factor);
  if (time !== null) scales.splice(time, 0, opened.channels[time]!.scale);
  return scales;
}

/**
 * The file with the numbers that mean 0 as planned: a current at 0 V shifts them.
 *
 * @param time Position of the time channel, which keeps its own; `null` for none.
 */
export function withZeros(
  opened: OpenedBinary,
  plans: readonly ChannelPlan[],
  time: number | null,
): OpenedBinary {
  const zeros = plans.map(({ zero }) => zero);
  if (time !== null) zeros.splice(time, 0, opened.channels[time]!.zero ?? 0);
  return {
    ...opened,
    channels: opened.channels.map((channel, at) => ({
      ...channel,
      zero: zeros[at]!,
    })),
  };
}

/** An opened file of which all is decided but its samples. */
interface BinaryPlan {
  /** The file, to be read with these factors. */
  readonly file: OpenedBinary;
  /** Factor of every channel. */
  readonly scales: readonly number[];
  /**
   * The capture of all samples.
   *
   * @param source Where they come from; the format is filled in.
   */
  capture(columns: readonly Samples[], source: CaptureSource): Capture & Shown;
}

/** Decides what becomes of the channels before their samples are read. */
export function planBinary(
  opened: OpenedBinary,
  options: ReadCaptureOptions,
  fileName: string | null,
): BinaryPlan {
  const warnings: Warning[] = [...opened.warnings];
  const time = timeChannelOf(opened, options);
  const wanted = opened.channels.filter((_, at) => at !== time);
  const { plans, warnings: doubts } = planChannels(
    wanted,
    options.channels ?? {},
  );
  return {
    file: withZeros(opened, plans, time),
    scales: scalesOf(opened, plans, time),
    capture(columns, source) {
      const samplingRate = rateOf(
        opened,
        options,
        time === null ? null : columns[time]!,
        fileName,
        warnings,
      );
      warnings.push(...doubtfulRate(samplingRate));
      return createCapture(
        withSamples(plans, columns.filter((_, at) => at !== time)),
        {
          samplingRate,
          startTime: options.startTime ?? opened.startTime,
          metadata: opened.metadata,
          source: { ...source, format: opened.format },
          warnings: [...warnings, ...doubts],
        },
      );
    },
  };
}

/** Sampling rate of a file that is not read whole, in Hz. */
export function rateOfHead(
  opened: OpenedBinary,
  options: ReadCaptureOptions,
  fileName: string | null,
  warnings: Warning[],
): number {
  const time = timeChannelOf(opened, options);
  if (
    time === null || options.samplingRate !== undefined ||
    opened.samplingRate !== null
  ) return rateOf(opened, options, null, fileName, warnings);
  const only: OpenedBinary = {
    ...opened,
    channels: [opened.channels[time]!],
    layouts: [opened.layouts[time]!],
  };
  const times = readBinary(
    only,
    0,
    Math.min(opened.sampleCount, timesLookedAt),
  )[0]!;
  const rate = rateOf(opened, options, times, fileName, warnings);
  const last = readBinary(only, opened.sampleCount - 1, 1)[0]!;
  const mean = (last[0]! - times[0]!) / (opened.sampleCount - 1);
  return Math.abs(mean * rate - 1) < 1e-3 ? 1 / mean : rate;
}
