import type { Samples } from "../capture.ts";
import { hostLittleEndian, sampleArrays } from "./decode_samples.ts";
import { type SampleLayout, sampleSize } from "./sample_type.ts";

/** Two channels to be filled, with their factors. */
interface Pair {
  readonly first: Samples;
  readonly second: Samples;
  /** Factor of the first channel. */
  readonly a: number;
  /** Factor of the second channel. */
  readonly b: number;
}

/**
 * Whether two channels take turns sample by sample, so that one pass can read
 * both: twice as fast as a pass for each.
 */
export function isPair(layouts: readonly SampleLayout[]): boolean {
  const [first, second] = layouts;
  if (layouts.length !== 2 || first === undefined || second === undefined) {
    return false;
  }
  const { type, littleEndian } = first;
  const size = sampleSize[type];
  return type in sampleArrays && littleEndian === hostLittleEndian &&
    second.type === type && second.littleEndian === littleEndian &&
    first.stride === 2 * size && second.stride === 2 * size &&
    second.offset === first.offset + size;
}

/**
 * Decodes and scales two channels that take turns.
 *
 * @param bytes Starts with the first sample of the first channel; aligned to
 * the size of a sample.
 * @param layout Layout of the first channel.
 * @param pair Arrays, filled from `at`, and factors.
 * @param at First index in the arrays.
 * @param count Number of samples of each channel.
 */
export function decodePair(
  bytes: Uint8Array,
  { type }: SampleLayout,
  pair: Pair,
  at: number,
  count: number,
): void {
  const { buffer, byteOffset } = bytes;
  const { first, second, a, b } = pair;
  if (type === "int16" && hostLittleEndian && byteOffset % 4 === 0) {
    decodeWords(new Int32Array(buffer, byteOffset, count), pair, at, count);
    return;
  }
  if (
    first instanceof Float32Array && second instanceof Float32Array &&
    type === "float32" && a === 1 && b === 1
  ) {
    splitWords(
      new Int32Array(buffer, byteOffset, 2 * count),
      new Int32Array(first.buffer, first.byteOffset + 4 * at, count),
      new Int32Array(second.buffer, second.byteOffset + 4 * at, count),
      count,
    );
    return;
  }
  const source = new sampleArrays[type as keyof typeof sampleArrays](
    buffer as ArrayBuffer,
    byteOffset,
    2 * count,
  );
  for (let index = 0, from = 0; index < count; index++, from += 2) {
    first[at + index] = source[from]! * a;
    second[at + index] = source[from + 1]! * b;
  }
}

/** Two whole numbers of 16 bits, taken at once as one of 32. */
function decodeWords(
  words: Int32Array,
  { first, second, a, b }: Pair,
  at: number,
  count: number,
): void {
  for (let index = 0; index < count; index++) {
    const word = words[index]!;
    first[at + index] = ((word << 16) >> 16) * a;
    second[at + index] = (word >> 16) * b;
  }
}

/** Moves numbers of 32 bits without looking at them. */
function splitWords(
  words: Int32Array,
  first: Int32Array,
  second: Int32Array,
  count: number,
): void {
  for (let index = 0, from = 0; index < count; index++, from += 2) {
    first[index] = words[from]!;
    second[index] = words[from + 1]!;
  }
}
