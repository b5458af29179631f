import {
  type Capture,
  type CaptureStream,
  createCapture,
} from "../../capture/mod.ts";
import { joinValues } from "../../memory/mod.ts";
import { UsageError } from "../task/mod.ts";

/** A part of a capture, in s from its first sample. */
interface TimeWindow {
  readonly from?: number;
  readonly to?: number;
}

/**
 * Takes a part out of a file that is not read whole: block by block up to its end,
 * so that memory holds that part and one block.
 *
 * @param file Path of the capture, for messages.
 * @param stream The opened file.
 * @param window The part.
 * @param most Samples of one channel that may be taken into memory (1).
 * @throws {UsageError} If no sample lies there, or too many do.
 */
export async function readPart(
  file: string,
  stream: CaptureStream,
  { from = 0, to = Infinity }: TimeWindow,
  most: number,
): Promise<Capture> {
  const { samplingRate } = stream;
  const first = Math.max(0, Math.round(from * samplingRate));
  const end = Math.round(to * samplingRate);
  const parts: Capture["channels"][] = [];
  let taken = 0;
  let head: Capture | null = null;
  for await (const { capture, start } of stream.blocks()) {
    const low = Math.max(0, first - start);
    const high = Math.min(capture.sampleCount, end - start);
    if (high > low) {
      head ??= capture;
      taken += high - low;
      if (taken > most) {
        throw new UsageError(
          `Cannot cut '${file}' with '--from' and '--to' as the part has more than ${most} samples, too many for memory: choose a shorter one`,
        );
      }
      // A copy: the block that it lies in is let go.
      parts.push(capture.channels.map((channel) => ({
        ...channel,
        samples: channel.samples.slice(low, high),
      })));
    }
    if (start + capture.sampleCount >= end) break;
  }
  if (head === null) {
    throw new UsageError(
      `Cannot cut '${file}' as no sample lies between '--from' and '--to': the file ends before`,
    );
  }
  return createCapture(
    head.channels.map((channel, k) => ({
      ...channel,
      samples: joinValues(parts.map((part) => part[k]!.samples)),
    })),
    {
      samplingRate,
      metadata: head.metadata,
      source: head.source,
      warnings: stream.warnings,
    },
  );
}
