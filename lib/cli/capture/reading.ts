import {
  type Capture,
  type Channel,
  type ChannelRole,
  cutCapture,
  openCaptureStream,
  readCapture,
  type ReadCaptureOptions,
} from "../../capture/mod.ts";
import { UsageError } from "../task/mod.ts";
import type { CaptureTask } from "./capture_task.ts";

/** A channel of a file, before it has a role. */
type FileChannel = Pick<Channel, "name" | "unit">;

/**
 * Options by which a capture is read as asked for: channels by their names in
 * the file.
 *
 * @param file The capture.
 * @param task How to read it.
 * @throws {UsageError} If the file has no such channel, or the drive is no
 * current and there is no scale.
 */
export async function readingOptions(
  file: string,
  { channels: choice, samplingRate }: CaptureTask,
): Promise<ReadCaptureOptions> {
  const { monitor, junction, drive } = choice;
  const options = samplingRate === null ? {} : { samplingRate };
  if (monitor === null && junction === null && drive === null) return options;
  const found = await channelsOf(file, options);
  const roles: Record<string, ChannelRole> = {};
  if (monitor !== null) {
    const index = channelIndex("monitor", monitor, found);
    roles[channelKey(index, found)] = "monitor signal";
  }
  if (junction !== null) {
    if (monitor !== null) {
      throw new UsageError(
        `Cannot read '${file}' with '--monitor' and '--junction': one of them carries the fringes`,
      );
    }
    const index = channelIndex("junction", junction, found);
    roles[channelKey(index, found)] = "junction voltage";
  }
  if (drive !== null) {
    const index = channelIndex("drive", drive, found);
    const key = channelKey(index, found);
    if (roles[key] !== undefined) {
      throw new UsageError(
        `Cannot read '${file}' as '--${
          monitor === null ? "junction" : "monitor"
        }' and '--drive' name the same channel: it has ${channelList(found)}`,
      );
    }
    roles[key] = roleOfDrive(found[index]!, choice);
  }
  return { ...options, channels: roles };
}

async function channelsOf(
  file: string,
  options: ReadCaptureOptions,
): Promise<readonly FileChannel[]> {
  using stream = await openCaptureStream(file, options);
  for await (const { capture } of stream.blocks({ blockLength: 16 })) {
    return capture.channels;
  }
  return [];
}

/** Position of the channel that a person names, or counts from 1. */
function channelIndex(
  flag: string,
  wanted: string,
  found: readonly FileChannel[],
): number {
  const named = found.findIndex(({ name }) => name === wanted);
  if (named >= 0) return named;
  const index = Number(wanted) - 1;
  if (/^\d+$/.test(wanted) && found[index] !== undefined) return index;
  throw new UsageError(
    `Cannot find a channel as '--${flag}' is ${
      JSON.stringify(wanted.slice(0, 60))
    }: the file has ${channelList(found)}`,
  );
}

/** The key under which the reader knows a channel: its name where it is alone. */
function channelKey(index: number, found: readonly FileChannel[]): string {
  const { name } = found[index]!;
  const same = found.filter((channel) => channel.name === name).length;
  return same === 1 ? name : String(index);
}

/** `1 'CH1' in V, 2 'CH2' in V`: the numbers that a person counts from 1. */
function channelList(found: readonly FileChannel[]): string {
  return found.slice(0, 20)
    .map(({ name, unit }, index) =>
      `${index + 1} '${name.slice(0, 60)}'${unit === "1" ? "" : ` in ${unit}`}`
    ).join(", ");
}

/** A current, or a voltage with a scale, or one that moves the target. */
function roleOfDrive(
  { name, unit }: FileChannel,
  { scaled, moves }: CaptureTask["channels"],
): ChannelRole {
  if (unit === "A") return "drive current";
  if (scaled || moves) return "drive voltage";
  throw new UsageError(
    `Cannot take channel '${
      name.slice(0, 60)
    }' for the drive current as it is ${
      unit === "1" ? "without a unit" : `in ${unit}`
    }: give its current per voltage, say --current-per-voltage 10mA/V. Where it drives the target and not the diode, say --as motion`,
  );
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

/** One channel must be the monitor signal, and a scale must have its drive. */
export function checkChannels(
  file: string,
  { channels }: Pick<Capture, "channels">,
  { channels: { scaled } }: CaptureTask,
): void {
  if (
    !channels.some(({ role }) =>
      role === "monitor signal" || role === "junction voltage"
    )
  ) {
    throw new UsageError(
      `Cannot tell which channel of '${file}' carries the monitor signal: it has ${
        channelList(channels)
      }. Name it, say --monitor 1`,
    );
  }
  if (!scaled) return;
  const drive = channels.find(({ role }) =>
    role === "drive current" || role === "drive voltage"
  );
  if (drive === undefined) {
    throw new UsageError(
      `Cannot use '--current-per-voltage' as no channel of '${file}' is the drive: it has ${
        channelList(channels)
      }. Name it, say --drive 2`,
    );
  }
  if (drive.unit !== "A") return;
  throw new UsageError(
    `Cannot use '--current-per-voltage' as channel '${
      drive.name.slice(0, 60)
    }' is in A already: leave it out`,
  );
}
