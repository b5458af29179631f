import { checkpoint } from "../../progress/mod.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { scaleRange } from "../scale.ts";
import { decodeSamples, sampleSize, viewSamples } from "./sample_type.ts";

/** Most bytes read from a file at once. */
const fileChunk = 1 << 22;
/** Bytes decoded and scaled at once from memory, so that they stay in cache. */
const memoryChunk = 1 << 17;

/**
 * Decodes a stretch of samples of every channel: (number − zero) × scale. Where
 * the samples lie ready in memory of our own, they are not copied.
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
): Float64Array[] {
  const { layouts, source } = file;
  const ready = viewReady(file, start, count, scales);
  if (ready !== null) return ready;
  const chunkSize = source.inMemory ? memoryChunk : fileChunk;
  const columns = layouts.map(() => new Float64Array(count));
  for (const group of groups(file)) {
    const { stride } = layouts[group[0]!]!;
    const first = Math.min(...group.map((at) => layouts[at]!.offset));
    const extent = Math.max(
      ...group.map((at) => layouts[at]!.offset + sampleSize[layouts[at]!.type]),
    ) - first;
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
      for (const at of group) {
        const layout = layouts[at]!;
        decodeSamples(
          bytes,
          layout.offset - first,
          layout,
          columns[at]!,
          done,
          whole,
        );
        const zero = file.channels[at]!.zero ?? 0;
        scaleRange(columns[at]!, done, done + whole, zero, scales[at]!);
        // The file shrank while it was read: what is gone is missing.
        columns[at]!.fill(NaN, done + whole, done + wanted);
      }
    }
  }
  return columns;
}

function viewReady(
  { layouts, source }: OpenedBinary,
  start: number,
  count: number,
  scales: readonly number[],
): Float64Array[] | null {
  if (!source.owned) return null;
  const columns: Float64Array[] = [];
  for (const [at, layout] of layouts.entries()) {
    const offset = layout.offset + start * layout.stride;
    const bytes = source.read(offset, count * 8);
    const view = viewSamples(bytes, layout);
    if (view === null || view.length !== count) return null;
    if (scales[at] !== 1) return null;
    columns.push(view);
  }
  return columns;
}

/** Channels that interleave are read together; planar ones one by one. */
function groups({ layouts }: OpenedBinary): number[][] {
  const found: number[][] = [];
  layouts.forEach((layout, at) => {
    const group = found.find((other) => {
      const first = layouts[other[0]!]!;
      return first.stride === layout.stride &&
        Math.abs(first.offset - layout.offset) < layout.stride;
    });
    if (group === undefined) found.push([at]);
    else group.push(at);
  });
  return found;
}
