import { checkpoint } from "../../progress/mod.ts";
import type { Channel } from "../capture.ts";

/** Bytes encoded at once. */
const partSize = 1 << 19;

/**
 * Samples of all channels in turn, little-endian.
 *
 * @param channels The channels.
 * @param size Bytes of one stored sample.
 * @param put Stores one sample.
 */
export function* interleavedParts(
  channels: readonly Channel[],
  size: number,
  put: (view: DataView, at: number, value: number, channel: number) => void,
): Generator<Uint8Array<ArrayBuffer>> {
  const count = channels[0]?.samples.length ?? 0;
  const frame = size * channels.length;
  const step = Math.max(1, Math.floor(partSize / frame));
  for (let start = 0; start < count; start += step) {
    checkpoint(start / count, "write samples");
    const end = Math.min(count, start + step);
    const bytes = new Uint8Array((end - start) * frame);
    const view = new DataView(bytes.buffer);
    channels.forEach(({ samples }, channel) => {
      let at = channel * size;
      for (let index = start; index < end; index++, at += frame) {
        put(view, at, samples[index]!, channel);
      }
    });
    yield bytes;
  }
}

/** Stores float64, little-endian. */
export function putFloat64(view: DataView, at: number, value: number): void {
  view.setFloat64(at, value, true);
}
