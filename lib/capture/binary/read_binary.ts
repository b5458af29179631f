import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { multiplies, scaleRange } from "../scale.ts";
import {
  arrayFor,
  isStoredAsWanted,
  isUnscaled,
  readStored,
  viewSamples,
} from "./as_stored.ts";
import { decodePair, isPair } from "./decode_pair.ts";
import { decodeSamples } from "./decode_samples.ts";
import { sampleSize } from "./sample_type.ts";

/** Bytes read, decoded and scaled at once, so that they stay in cache. */
const chunkSize = 1 << 18;

/**
 * Decodes a stretch of samples of every channel: (number − zero) × scale. Where
 * the samples lie ready in memory of our own, they are not copied; where they
 * lie ready in a file, they are read straight into their array.
 *
 * @param file The opened file.
 * @param start First sample.
 * @param count Number of samples; must lie within the file.
 * @param scales Factor of each channel; the file's own unless given.
 * @returns One array of `count` numbers per channel, in its unit.
 */
export function readBinary(
  file: OpenedBinary,
  start: number,
  count: number,
  scales = file.channels.map(({ scale }) => scale),
): Samples[] {
  const { layouts, source } = file;
  const columns: Samples[] = [];
  const rest: number[] = [];
  layouts.forEach((layout, at) => {
    const unscaled = isUnscaled(file, at, scales[at]!);
    const size = sampleSize[layout.type];
    if (unscaled && isStoredAsWanted(layout)) {
      const offset = layout.offset + start * size;
      const view = source.owned
        ? viewSamples(source.read(offset, count * size), layout)
        : null;
      const ready = view?.length === count
        ? view
        : arrayFor(layout, true, count);
      columns.push(ready);
      if (ready !== view) readStored(source, offset, ready);
    } else {
      columns.push(arrayFor(layout, unscaled, count));
      rest.push(at);
    }
  });
  for (const group of groups(file, rest)) {
    decodeGroup(file, group, start, count, scales, columns);
  }
  return columns;
}

/** Decodes channels that take turns, chunk by chunk. */
function decodeGroup(
  file: OpenedBinary,
  group: readonly number[],
  start: number,
  count: number,
  scales: readonly number[],
  columns: readonly Samples[],
): void {
  const { layouts, source, channels } = file;
  const { stride } = layouts[group[0]!]!;
  const first = Math.min(...group.map((at) => layouts[at]!.offset));
  const extent = Math.max(
    ...group.map((at) => layouts[at]!.offset + sampleSize[layouts[at]!.type]),
  ) - first;
  const [a = 0, b = 0] = group;
  const inPairs = isPair(group.map((at) => layouts[at]!)) &&
    group.every((at) =>
      (channels[at]!.zero ?? 0) === 0 && multiplies(scales[at]!)
    );
  const step = Math.max(1, Math.floor(chunkSize / stride));
  for (let done = 0; done < count; done += step) {
    checkpoint(done / count, "read samples");
    const wanted = Math.min(step, count - done);
    const offset = first + (start + done) * stride;
    const bytes = source.read(offset, (wanted - 1) * stride + extent);
    const whole = Math.max(
      0,
      Math.min(wanted, Math.floor((bytes.length - extent) / stride) + 1),
    );
    const aligned = bytes.byteOffset % sampleSize[layouts[a]!.type] === 0;
    if (inPairs && aligned) {
      decodePair(
        bytes,
        layouts[a]!,
        {
          first: columns[a]!,
          second: columns[b]!,
          a: scales[a]!,
          b: scales[b]!,
        },
        done,
        whole,
      );
    } else {
      for (const at of group) {
        const layout = layouts[at]!;
        const from = layout.offset - first;
        decodeSamples(bytes, from, layout, columns[at]!, done, whole);
        const zero = channels[at]!.zero ?? 0;
        scaleRange(columns[at]!, done, done + whole, zero, scales[at]!);
      }
    }
    // The file shrank while it was read: what is gone is missing.
    for (const at of group) columns[at]!.fill(NaN, done + whole, done + wanted);
  }
}

/** Channels that interleave are read together; planar ones one by one. */
function groups(
  { layouts }: OpenedBinary,
  channels: readonly number[],
): number[][] {
  const found: number[][] = [];
  for (const at of channels) {
    const layout = layouts[at]!;
    const group = found.find((other) => {
      const first = layouts[other[0]!]!;
      return first.stride === layout.stride &&
        Math.abs(first.offset - layout.offset) < layout.stride;
    });
    if (group === undefined) found.push([at]);
    else group.push(at);
  }
  return found;
}
