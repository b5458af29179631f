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
const chunkSize = 1 << 20;
/** Longest line of a file that is read in pieces, in bytes. */
const longestLine = 1 << 26;

/**
 * Cuts a file into chunks of whole lines; each ends in a newline. Bytes in
 * memory come as they are, a file in pieces of 1 MiB, each in the same memory:
 * a chunk is good until the next one is asked for.
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
  let buffer = new Uint8Array(chunkSize * 1.25);
  let at = offset;
  let kept = 0;
  for (;;) {
    const space = buffer.subarray(kept, kept + chunkSize);
    const got = source.readInto(at, space);
    if (got === 0) break;
    const first = at - kept;
    const filled = kept + got;
    at += got;
    const end = buffer.lastIndexOf(10, filled - 1) + 1;
    if (end > 0) {
      const bytes = buffer.subarray(0, filled);
      yield { bytes, start: 0, end, offset: first, unterminated: false };
    } else if (filled > longestLine) {
      throw new CaptureFormatError(
        `Cannot read ${
          place(fileName)
        } as a line is longer than ${longestLine} bytes: it is not a table of rows`,
        { fileName, byteOffset: first },
      );
    }
    kept = filled - end;
    if (kept + chunkSize > buffer.length) {
      const larger = new Uint8Array(2 * kept + chunkSize);
      larger.set(buffer.subarray(end, filled));
      buffer = larger;
    } else buffer.copyWithin(0, end, filled);
  }
  if (kept > 0) yield lastLine(buffer.subarray(0, kept), at - kept);
}

function lastLine(rest: Uint8Array, offset: number): TextChunk {
  const bytes = new Uint8Array(rest.length + 1);
  bytes.set(rest);
  bytes[rest.length] = 10;
  return { bytes, start: 0, end: bytes.length, offset, unterminated: true };
}
