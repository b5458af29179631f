import { warn, type Warning } from "../../result/mod.ts";
import { type ByteSource, memorySource } from "../file/byte_source.ts";

const newline = 10;
const carriageReturn = 13;

/** Bytes of the head in which carriage returns are looked for. */
const headSize = 1 << 16;

/** A text whose lines end in line feeds, and what was done for it. */
export interface EvenLines {
  readonly source: ByteSource;
  /** Empty where the lines ended in line feeds anyway. */
  readonly warnings: readonly Warning[];
}

/**
 * Makes carriage returns that stand alone into line feeds, byte for byte, where
 * the head of a text has any; CR LF stays as it is.
 *
 * @param source The text.
 * @returns The same, or one that is read so, with a warning.
 */
export function evenLines(source: ByteSource): EvenLines {
  const head = source.read(0, Math.min(source.size, headSize));
  const alone = countAlone(head);
  if (alone === 0) return { source, warnings: [] };
  const feeds = head.indexOf(newline) >= 0;
  const warnings = [warn(
    "line-ends",
    feeds
      ? `The file mixes line ends: ${alone} carriage returns stand alone in its first ${head.length} bytes, beside line feeds. Each was read as the end of a line`
      : "The lines end in carriage returns alone. Each was read as the end of a line",
    feeds ? "doubtful" : "note",
  )];
  if (source.inMemory) {
    const bytes = source.read(0, source.size).slice();
    mend(bytes, bytes.length, newline);
    return { source: memorySource(bytes, true), warnings };
  }
  const next = (offset: number) => source.read(offset, 1)[0] ?? 0;
  const read = (offset: number, length: number) => {
    const bytes = source.read(offset, length + 1);
    mend(bytes, Math.min(length, bytes.length), 0);
    return bytes.subarray(0, length);
  };
  return {
    source: {
      ...source,
      read,
      readInto(offset, target) {
        const got = source.readInto(offset, target);
        mend(target, got, next(offset + got));
        return got;
      },
    },
    warnings,
  };
}

function countAlone(bytes: Uint8Array): number {
  let count = 0;
  for (
    let at = bytes.indexOf(carriageReturn);
    at >= 0;
    at = bytes.indexOf(carriageReturn, at + 1)
  ) {
    const next = bytes[at + 1];
    if (
      next !== undefined && next !== newline && next !== carriageReturn
    ) count++;
  }
  return count;
}

/** Mends the first `length` bytes; `after` follows the array's last byte. */
function mend(bytes: Uint8Array, length: number, after: number): void {
  for (
    let at = bytes.indexOf(carriageReturn);
    at >= 0 && at < length;
    at = bytes.indexOf(carriageReturn, at + 1)
  ) {
    const next = at + 1 < bytes.length ? bytes[at + 1]! : after;
    if (next !== newline && next !== carriageReturn) bytes[at] = newline;
  }
}
