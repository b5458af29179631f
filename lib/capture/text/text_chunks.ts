import { CaptureFormatError } from "../../errors/mod.ts";
import type { ByteSource } from "../file/byte_source.ts";
import { place } from "../place.ts";

/** A stretch of whole lines. */
export interface TextChunk {
  readonly bytes: Uint8Array;
  /** First byte of the first line in `bytes`. */
  readonly start: number;
  /** One past the last newline in `bytes`. */
  readonly end: number;
  /** Byte offset in the file of `bytes[start]`. */
  readonly offset: number;
  /** Whether this is a last line that had no line end of its own. */
  readonly unterminated: boolean;
}

/** Bytes read from a file at once. */
const chunkSize = 1 << 22;
/** Longest line of a file that is read in pieces, in bytes. */
const longestLine = 1 << 26;

/**
 * Cuts a file into chunks of whole lines; each ends in a newline. Bytes in
 * memory come as they are, a file in pieces of 4 MiB.
 */
export function* textChunks(
  source: ByteSource,
  offset: number,
  fileName: string | null,
): Generator<TextChunk> {
  if (source.inMemory) {
    const bytes = source.read(0, source.size);
    const end = bytes.lastIndexOf(10) + 1;
    if (end > offset) {
      yield { bytes, start: offset, end, offset, unterminated: false };
    }
    const from = Math.max(end, offset);
    if (from < bytes.length) yield lastLine(bytes.subarray(from), from);
    return;
  }
  let at = offset;
  let carry = new Uint8Array(0);
  for (;;) {
    const read = source.read(at, chunkSize);
    if (read.length === 0) break;
    const bytes = new Uint8Array(carry.length + read.length);
    bytes.set(carry);
    bytes.set(read, carry.length);
    const first = at - carry.length;
    at += read.length;
    const end = bytes.lastIndexOf(10) + 1;
    if (end > 0) {
      yield { bytes, start: 0, end, offset: first, unterminated: false };
    } else if (bytes.length > longestLine) {
      throw new CaptureFormatError(
        `Cannot read ${
          place(fileName)
        } as a line is longer than ${longestLine} bytes: it is not a table of rows`,
        { fileName, byteOffset: first },
      );
    }
    carry = bytes.slice(end);
  }
  if (carry.length > 0) yield lastLine(carry, at - carry.length);
}

function lastLine(rest: Uint8Array, offset: number): TextChunk {
  const bytes = new Uint8Array(rest.length + 1);
  bytes.set(rest);
  bytes[rest.length] = 10;
  return { bytes, start: 0, end: bytes.length, offset, unterminated: true };
}
