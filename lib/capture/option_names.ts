import {
  benchOptions,
  nearestName,
  requireFields,
  requireForm,
} from "../options/mod.ts";
import type { ChannelRole } from "./capture.ts";
import type { ChannelOptions, ReadCaptureOptions } from "./options.ts";

const readOptions: Record<keyof ReadCaptureOptions, true> = {
  format: true,
  samplingRate: true,
  channels: true,
  startTime: true,
  fileName: true,
  delimiter: true,
  decimalMark: true,
  thousandsMark: true,
  missing: true,
  timeColumn: true,
  orientation: true,
  threads: true,
  record: true,
  raw: true,
  maximumSize: true,
  sha256: true,
};

const channelOptions: Record<keyof ChannelOptions, true> = {
  name: true,
  role: true,
  unit: true,
  scale: true,
  fullScale: true,
  currentPerVoltage: true,
  currentOffset: true,
};

const roles: Record<ChannelRole, true> = {
  "monitor signal": true,
  "junction voltage": true,
  "drive current": true,
  "drive voltage": true,
  "other": true,
};

/**
 * Refuses option names and roles that do not exist, as a misspelt one would
 * otherwise do nothing.
 */
export function checkReadOptions(options: ReadCaptureOptions): void {
  requireFields(options, "options", [], "read a capture");
  checkNames(options, readOptions, "option");
  statedRate(options);
  const { threads = 1 } = options;
  if (!Number.isInteger(threads) || threads < 1 || threads > 64) {
    throw new RangeError(
      `Cannot read a capture as 'threads' must be a whole number from 1 to 64: current value is ${threads}`,
    );
  }
  for (const [key, channel] of Object.entries(options.channels ?? {})) {
    if (typeof channel === "string") {
      checkNames({ [channel]: true }, roles, "role");
      continue;
    }
    checkNames(channel, channelOptions, `option of channel '${key}':`);
    const { role, scale } = channel;
    if (role !== undefined) checkNames({ [role]: true }, roles, "role");
    if (scale !== undefined && !(Number.isFinite(scale) && scale !== 0)) {
      throw new RangeError(
        `Cannot read a capture as the scale of channel '${key}' must be a number other than 0: current value is ${scale}`,
      );
    }
  }
}

/** The sampling rate that was given, in Hz. */
export function statedRate(
  { samplingRate }: Pick<ReadCaptureOptions, "samplingRate">,
): number | undefined {
  return samplingRate === undefined ? undefined : benchOptions.samplingRate
    .read(samplingRate, "samplingRate", "read a capture");
}

function checkNames(
  given: object,
  known: Readonly<Record<string, true>>,
  what: string,
): void {
  for (const name of Object.keys(given)) {
    if (Object.hasOwn(known, name)) continue;
    const names = Object.keys(known);
    const near = nearestName(name, names);
    throw new TypeError(
      `Cannot read a capture as there is no ${what} '${name.slice(0, 60)}'. ${
        near !== null
          ? `Did you mean '${near}'?`
          : `There are ${names.join(", ")}`
      }`,
    );
  }
}

/** Refuses what is neither a path, a file URL nor bytes. */
export function requireSource(source: unknown): void {
  requireForm(source, {
    what: "a path, a file URL or the bytes of a file",
    is: (value) =>
      typeof value === "string" || value instanceof URL ||
      value instanceof Uint8Array,
    remedy: "give a path",
    awaited: "await …",
  }, "read a capture");
}
