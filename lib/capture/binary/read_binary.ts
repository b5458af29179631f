import { checkpoint } from "../../progress/mod.ts";
import type { Samples } from "../capture.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { readAhead } from "../file/read_ahead.ts";
import { multiplies, scaleRange } from "../scale.ts";
import {
  arrayFor,
  isStoredAsWanted,
  isUnscaled,
  viewSamples,
} from "./as_stored.ts";
import { decodePair, isPair } from "./decode_pair.ts";
import { decodeSamples } from "./decode_samples.ts";
import { type SampleLayout, sampleSize } from "./sample_type.ts";

/** Bytes to read at once. */
interface PartSizes {
  /** Where they are decoded and scaled. */
  readonly decoded: number;
  /** Where they stay as they are. */
  readonly stored: number;
}

/** Small enough to be decoded from cache. */
const here: PartSizes = { decoded: 1 << 18, stored: 1 << 24 };
/** Large enough that handing over from the reading thread takes no time. */
const ahead: PartSizes = { decoded: 1 << 20, stored: 1 << 25 };
/** The same where the bytes are hashed, too, on this side. */
const hashedAhead: PartSizes = { decoded: 1 << 20, stored: 1 << 22 };

/** A stretch of the file and what is done with its bytes. */
interface Stretch {
  /** First byte. */
  readonly offset: number;
  /** Bytes in all. */
  readonly size: number;
  /** Bytes to read at once: a whole number of samples. */
  readonly step: number;
  /** Where the bytes are wanted as they are; `null` where they are decoded. */
  readonly target: Uint8Array<ArrayBuffer> | null;
  /** Takes a part; `at` is its offset in the stretch. */
  take(bytes: Uint8Array, at: number): void;
  /** Marks as missing what is not there: the file shrank while it was read. */
  end(size: number): void;
}

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
  scales: readonly number[] = file.channels.map(({ scale }) => scale),
): Samples[] {
  const { source } = file;
  const { columns, stretches } = plan(file, start, count, scales, here);
  for (const { offset, size, step, target, take, end } of stretches) {
    let done = 0;
    while (done < size) {
      checkpoint(done / size, "read samples");
      const wanted = Math.min(step, size - done);
      const bytes = target === null
        ? source.read(offset + done, wanted)
        : target.subarray(
          done,
          done +
            source.readInto(
              offset + done,
              target.subarray(done, done + wanted),
            ),
        );
      take(bytes, done);
      done += bytes.length;
      if (bytes.length < wanted) break;
    }
    end(done);
  }
  return columns;
}

/**
 * Reads all samples as {@linkcode readBinary} does, while another thread reads
 * the file ahead.
 *
 * @param path The file itself.
 * @param file The opened file.
 * @param scales Factor of each channel.
 * @param seen Told of all bytes that were read, in the order they are read in;
 * `null` if nobody wants to know.
 * @returns One array per channel, in its unit.
 */
export async function readBinaryAhead(
  path: string,
  file: OpenedBinary,
  scales: readonly number[],
  seen: ((offset: number, bytes: Uint8Array) => void) | null,
): Promise<Samples[]> {
  const { columns, stretches } = plan(
    file,
    0,
    file.sampleCount,
    scales,
    seen === null ? ahead : hashedAhead,
  );
  for (const stretch of stretches) {
    const { offset, size } = stretch;
    let done = 0;
    for await (const bytes of readAhead(path, stretch)) {
      checkpoint(done / size, "read samples");
      seen?.(offset + done, bytes);
      stretch.take(bytes, done);
      done += bytes.length;
    }
    stretch.end(done);
  }
  return columns;
}

/** The arrays of the channels, and how what is not in memory is read. */
function plan(
  file: OpenedBinary,
  start: number,
  count: number,
  scales: readonly number[],
  sizes: PartSizes,
): { columns: Samples[]; stretches: Stretch[] } {
  const { layouts, source } = file;
  const columns: Samples[] = [];
  const stretches: Stretch[] = [];
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
      if (ready !== view) stretches.push(stored(ready, offset, sizes.stored));
    } else {
      columns.push(arrayFor(layout, unscaled, count));
      rest.push(at);
    }
  });
  for (const group of groups(file, rest)) {
    stretches.push(
      decoded(file, group, start, count, scales, columns, sizes.decoded),
    );
  }
  return { columns, stretches };
}

/** Samples that are read straight into their array. */
function stored(samples: Samples, offset: number, step: number): Stretch {
  const { buffer, byteOffset, byteLength, BYTES_PER_ELEMENT } = samples;
  return {
    offset,
    size: byteLength,
    step,
    target: new Uint8Array(buffer as ArrayBuffer, byteOffset, byteLength),
    take: () => {},
    end: (size) => samples.fill(NaN, Math.floor(size / BYTES_PER_ELEMENT)),
  };
}

/** Channels that take turns, decoded chunk by chunk. */
function decoded(
  file: OpenedBinary,
  group: readonly number[],
  start: number,
  count: number,
  scales: readonly number[],
  columns: readonly Samples[],
  partSize: number,
): Stretch {
  const { layouts, channels } = file;
  const { stride } = layouts[group[0]!]!;
  const first = Math.min(...group.map((at) => layouts[at]!.offset));
  const extent = extentOf(group.map((at) => layouts[at]!));
  const [a = 0, b = 0] = group;
  const inPairs = isPair(group.map((at) => layouts[at]!)) &&
    group.every((at) =>
      (channels[at]!.zero ?? 0) === 0 && multiplies(scales[at]!)
    );
  const samplesIn = (size: number) =>
    Math.max(0, Math.floor((size - extent) / stride) + 1);
  return {
    offset: first + start * stride,
    size: (count - 1) * stride + extent,
    step: Math.max(1, Math.floor(partSize / stride)) * stride,
    target: null,
    take(bytes, at) {
      const done = at / stride;
      const whole = samplesIn(bytes.length);
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
        return;
      }
      for (const at of group) {
        const layout = layouts[at]!;
        const from = layout.offset - first;
        decodeSamples(bytes, from, layout, columns[at]!, done, whole);
        const zero = channels[at]!.zero ?? 0;
        scaleRange(columns[at]!, done, done + whole, zero, scales[at]!);
      }
    },
    end(size) {
      for (const at of group) columns[at]!.fill(NaN, samplesIn(size));
    },
  };
}

/**
 * Channels that interleave are read together, where one sample of each lies
 * within a stride; planar ones one by one.
 */
function groups(
  { layouts }: OpenedBinary,
  channels: readonly number[],
): number[][] {
  const found: number[][] = [];
  for (const at of channels) {
    const { stride } = layouts[at]!;
    const group = found.find((others) =>
      layouts[others[0]!]!.stride === stride &&
      extentOf([...others, at].map((other) => layouts[other]!)) <= stride
    );
    if (group === undefined) found.push([at]);
    else group.push(at);
  }
  return found;
}

/** Bytes from the first sample of all channels to the end of the last one. */
function extentOf(layouts: readonly SampleLayout[]): number {
  const first = Math.min(...layouts.map(({ offset }) => offset));
  const last = Math.max(
    ...layouts.map(({ offset, type }) => offset + sampleSize[type]),
  );
  return last - first;
}
