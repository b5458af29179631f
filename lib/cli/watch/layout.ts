import type {
  ChannelOptions,
  ReadCaptureOptions,
  SampleType,
} from "../../capture/mod.ts";
import { UsageError } from "../task/mod.ts";
import type { WatchValues } from "./watch_flags.ts";

/** Largest number of a whole-number type, for the scale of bare numbers. */
const halves: Readonly<Record<string, number>> = {
  int8: 2 ** 7,
  int16: 2 ** 15,
  int24: 2 ** 23,
  int32: 2 ** 31,
};

/**
 * How the bytes of a live source are laid out, from what was typed.
 *
 * @throws {UsageError} If the channels contradict each other.
 */
export function layoutOf(
  values: WatchValues,
  task: string,
): ReadCaptureOptions {
  const { raw, channels = 1, monitor = "1", drive } = values;
  const rate = values["sampling-rate"];
  if (raw !== undefined && rate === undefined) {
    throw new UsageError(
      `Cannot ${task} as bare numbers have no sampling rate: give --sampling-rate, say 192kHz`,
    );
  }
  if (drive === monitor) {
    throw new UsageError(
      `Cannot ${task} as '--monitor' and '--drive' name the same channel`,
    );
  }
  const perVoltage = values["current-per-voltage"];
  const offset = values["current-offset"];
  const scale = scaleOf(values);
  const roles: Record<string, ChannelOptions> = {
    [keyOf(monitor)]: { role: "monitor signal", ...scale },
  };
  if (drive !== undefined) {
    roles[keyOf(drive)] = typeof perVoltage === "number"
      ? {
        ...scale,
        currentPerVoltage: perVoltage,
        ...(offset === undefined ? {} : { currentOffset: offset }),
      }
      : { role: "drive voltage", ...scale };
  }
  return {
    channels: roles,
    ...(rate === undefined ? {} : { samplingRate: rate }),
    ...(raw === undefined
      ? {}
      : { raw: { type: raw as SampleType, channelCount: channels } }),
  };
}

/** The reader's key: a name, or the position from 0. */
function keyOf(channel: string): string {
  return /^\d+$/.test(channel) ? String(Number(channel) - 1) : channel;
}

function scaleOf(
  { raw, "full-scale": fullScale }: WatchValues,
): ChannelOptions {
  if (fullScale === undefined) return {};
  const half = raw === undefined ? 1 : halves[raw] ?? 1;
  return { scale: fullScale / half, unit: "V" };
}
