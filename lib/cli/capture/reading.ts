import {
  type Capture,
  type CaptureStream,
  type ChannelRole,
  cutCapture,
  openCaptureStream,
  readCapture,
  type ReadCaptureOptions,
} from "../../capture/mod.ts";
import { UsageError } from "../task/mod.ts";
import type { CaptureTask } from "./capture_task.ts";

/**
 * Options by which a capture is read as asked for: channels by their names in
 * the file.
 *
 * @param file The capture.
 * @param task How to read it.
 * @throws {UsageError} If the file has no such channel.
 */
export async function readingOptions(
  file: string,
  { channels: { monitor, drive, scaled }, samplingRate }: CaptureTask,
): Promise<ReadCaptureOptions> {
  const options = samplingRate === null ? {} : { samplingRate };
  if (monitor === null && drive === null) return options;
  using stream = await openCaptureStream(file, options);
  const roles: [string, ChannelRole][] = [];
  const add = (flag: string, wanted: string | null, role: ChannelRole) => {
    if (wanted !== null) roles.push([channelKey(flag, wanted, stream), role]);
  };
  add("monitor", monitor, "monitor signal");
  add("drive", drive, scaled ? "drive voltage" : "drive current");
  if (roles.length === 2 && roles[0]![0] === roles[1]![0]) {
    throw new UsageError(
      `Cannot read '${file}' as '--monitor' and '--drive' name the same channel: it has ${
        channelList(stream.channelNames)
      }`,
    );
  }
  return { ...options, channels: Object.fromEntries(roles) };
}

/** The key under which the reader knows a channel that a person names. */
function channelKey(
  flag: string,
  wanted: string,
  stream: CaptureStream,
): string {
  const { channelNames } = stream;
  if (channelNames.includes(wanted)) return wanted;
  const index = Number(wanted) - 1;
  const name = /^\d+$/.test(wanted) ? channelNames[index] : undefined;
  if (name !== undefined) {
    const alone = channelNames.indexOf(name) === channelNames.lastIndexOf(name);
    return alone ? name : String(index);
  }
  throw new UsageError(
    `Cannot find a channel as '--${flag}' is ${
      JSON.stringify(wanted.slice(0, 60))
    }: the file has ${channelList(stream.channelNames)}`,
  );
}

/** `1 'CH1', 2 'CH2'`: the numbers that a person counts from 1. */
function channelList(names: readonly string[]): string {
  const shown = names.slice(0, 20)
    .map((name, index) => `${index + 1} '${name.slice(0, 60)}'`);
  return shown.join(", ");
}

/**
 * Reads a capture as asked for.
 *
 * @throws {UsageError} If a channel or the part asked for is not there, or the
 * drive is no current and there is no scale.
 */
export async function readAsAsked(
  file: string,
  task: CaptureTask,
): Promise<Capture> {
  const capture = await readCapture(file, await readingOptions(file, task));
  checkChannels(file, capture, task);
  return Object.keys(task.window).length === 0
    ? capture
    : cutCapture(capture, task.window);
}

/**
 * One channel must be the monitor signal; a drive that is no current needs a
 * scale, and the other way round.
 */
export function checkChannels(
  file: string,
  { channels }: Pick<Capture, "channels">,
  { channels: { scaled } }: CaptureTask,
): void {
  if (!channels.some(({ role }) => role === "monitor signal")) {
    throw new UsageError(
      `Cannot tell which channel of '${file}' carries the monitor signal: it has ${
        channelList(channels.map(({ name }) => name))
      }. Name it, say --monitor 1`,
    );
  }
  const drive = channels.find(({ role }) =>
    role === "drive current" || role === "drive voltage"
  );
  if (scaled && drive === undefined) {
    throw new UsageError(
      "Cannot use '--current-per-voltage' as no channel is the drive: name it with '--drive'",
    );
  }
  if (drive === undefined) return;
  const shown = `channel '${drive.name.slice(0, 60)}'`;
  if (scaled && drive.unit === "A") {
    throw new UsageError(
      `Cannot use '--current-per-voltage' as ${shown} is in A already: leave it out`,
    );
  }
  if (!scaled && drive.role === "drive current" && drive.unit !== "A") {
    throw new UsageError(
      `Cannot take ${shown} for the drive current as it is in ${
        drive.unit === "1" ? "no unit" : drive.unit
      }: give its current per voltage, say --current-per-voltage 10mA/V`,
    );
  }
}
