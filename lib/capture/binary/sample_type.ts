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
