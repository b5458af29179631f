import type { Samples } from "../capture.ts";
import {
  type SampleLayout,
  sampleSize,
  type SampleType,
} from "./sample_type.ts";

/** Whether this machine stores the least significant byte first. */
export const hostLittleEndian =
  new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

/**
 * Decodes samples of one channel.
 *
 * @param bytes Bytes that hold the samples.
 * @param start Byte offset of the first wanted sample in `bytes`.
 * @param layout How samples are stored; its `offset` is not used.
 * @param target Filled from `at`.
 * @param at First index in `target`.
 * @param count Number of samples.
 */
export function decodeSamples(
  bytes: Uint8Array,
  start: number,
  layout: SampleLayout,
  target: Samples,
  at: number,
  count: number,
): void {
  const { type, littleEndian, stride } = layout;
  const size = sampleSize[type];
  if (count === 0) return;
  if (
    stride % size === 0 && littleEndian === hostLittleEndian &&
    (bytes.byteOffset + start) % size === 0 && type in sampleArrays
  ) {
    const step = stride / size;
    const source = new sampleArrays[type as keyof typeof sampleArrays](
      bytes.buffer as ArrayBuffer,
      bytes.byteOffset + start,
      (count - 1) * step + 1,
    );
    if (step === 1) target.set(source, at);
    else {
      for (let index = 0, from = 0; index < count; index++, from += step) {
        target[at + index] = source[from]!;
      }
    }
    return;
  }
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const read = readers[type];
  for (let index = 0, from = start; index < count; index++, from += stride) {
    target[at + index] = read(view, from, littleEndian);
  }
}

/** Array type that holds the samples of a file as they are. */
export const sampleArrays = {
  int8: Int8Array,
  uint8: Uint8Array,
  int16: Int16Array,
  uint16: Uint16Array,
  int32: Int32Array,
  uint32: Uint32Array,
  float32: Float32Array,
  float64: Float64Array,
};

type Read = (view: DataView, at: number, little: boolean) => number;

const readers: Readonly<Record<SampleType, Read>> = {
  int8: (view, at) => view.getInt8(at),
  uint8: (view, at) => view.getUint8(at),
  int16: (view, at, little) => view.getInt16(at, little),
  uint16: (view, at, little) => view.getUint16(at, little),
  int24: (view, at, little) =>
    little
      ? view.getUint16(at, true) + view.getInt8(at + 2) * 65536
      : view.getInt8(at) * 65536 + view.getUint16(at + 1, false),
  int32: (view, at, little) => view.getInt32(at, little),
  uint32: (view, at, little) => view.getUint32(at, little),
  int64: (view, at, little) => Number(view.getBigInt64(at, little)),
  uint64: (view, at, little) => Number(view.getBigUint64(at, little)),
  float16: (view, at, little) => view.getFloat16(at, little),
  float32: (view, at, little) => view.getFloat32(at, little),
  float64: (view, at, little) => view.getFloat64(at, little),
};
