/** How one sample is stored. */
export type SampleType =
  | "int8"
  | "uint8"
  | "int16"
  | "uint16"
  | "int24"
  | "int32"
  | "uint32"
  | "int64"
  | "uint64"
  | "float16"
  | "float32"
  | "float64";

/** Bytes of one sample. */
export const sampleSize: Readonly<Record<SampleType, number>> = {
  int8: 1,
  uint8: 1,
  int16: 2,
  uint16: 2,
  int24: 3,
  int32: 4,
  uint32: 4,
  int64: 8,
  uint64: 8,
  float16: 2,
  float32: 4,
  float64: 8,
};

/** Smallest and largest number of a whole-number type; `null` for floats. */
export function integerLimits(
  type: SampleType,
): { low: number; high: number } | null {
  if (type.startsWith("float")) return null;
  const bits = sampleSize[type] * 8;
  return type.startsWith("u")
    ? { low: 0, high: 2 ** bits - 1 }
    : { low: -(2 ** (bits - 1)), high: 2 ** (bits - 1) - 1 };
}

/** Where the samples of one channel lie in a file. */
export interface SampleLayout {
  readonly type: SampleType;
  readonly littleEndian: boolean;
  /** Byte offset of the first sample. */
  readonly offset: number;
  /** Bytes from one sample to the next. */
  readonly stride: number;
}

const hostLittleEndian = new Uint8Array(Uint16Array.of(1).buffer)[0] === 1;

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
  target: Float64Array,
  at: number,
  count: number,
): void {
  const { type, littleEndian, stride } = layout;
  const size = sampleSize[type];
  if (count === 0) return;
  if (
    stride % size === 0 && littleEndian === hostLittleEndian &&
    (bytes.byteOffset + start) % size === 0 && type in arrays
  ) {
    const step = stride / size;
    const source = new arrays[type as keyof typeof arrays](
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

/**
 * Samples as they lie in memory, without a copy: for float64 in the byte order
 * of this machine, one after another, at a multiple of 8 bytes.
 *
 * @returns A view of the bytes, or `null` where they must be decoded.
 */
export function viewSamples(
  bytes: Uint8Array,
  { type, littleEndian, stride }: SampleLayout,
): Float64Array | null {
  if (
    type !== "float64" || stride !== 8 || littleEndian !== hostLittleEndian ||
    bytes.byteOffset % 8 !== 0
  ) return null;
  return new Float64Array(
    bytes.buffer as ArrayBuffer,
    bytes.byteOffset,
    Math.floor(bytes.length / 8),
  );
}

const arrays = {
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
