import { checkpoint } from "../../progress/mod.ts";
import type { OpenedBinary } from "../file/opened_file.ts";
import { decodeSamples, sampleSize } from "./sample_type.ts";

/** Most bytes read from a file at once. */
const chunkSize = 1 << 22;

/**
 * Decodes a stretch of samples of every channel, in the file's numbers.
 *
 * @param file The opened file.
 * @param start First sample.
 * @param count Number of samples; must lie within the file.
 * @returns One array of `count` numbers per channel.
 */
export function readBinary(
  file: OpenedBinary,
  start: number,
  count: number,
): Float64Array[] {
  const { layouts, source } = file;
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
        // The file shrank while it was read: what is gone is missing.
        columns[at]!.fill(NaN, done + whole, done + wanted);
      }
    }
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
