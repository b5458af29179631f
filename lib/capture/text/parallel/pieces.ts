import type { ByteSource } from "../../file/byte_source.ts";

/** Bytes of a piece. */
export const pieceSize = 1 << 21;
/** Longest line that a piece may end in, in bytes. */
const longestTail = 1 << 20;

/** A stretch of whole lines in memory. */
export interface Piece {
  readonly bytes: Uint8Array;
  /** First byte of the first line. */
  readonly start: number;
  /** One past the last newline; `start` if no line begins in the piece. */
  readonly end: number;
}

/** Where the pieces of a table lie in its file. */
export interface Pieces {
  /** Byte offset of the first line. */
  readonly offset: number;
  /** One past the last newline. */
  readonly end: number;
}

/** Number of pieces. */
export function countPieces({ offset, end }: Pieces): number {
  return Math.ceil((end - offset) / pieceSize);
}

/** Memory that any piece fits in. */
export function pieceMemory(): Uint8Array {
  return new Uint8Array(pieceSize + longestTail + 1);
}

/**
 * Reads a piece: the lines that begin in its stretch of the file.
 *
 * @param source The file.
 * @param pieces Where the pieces lie.
 * @param index Which piece.
 * @param memory Memory for it, which the piece is a view of.
 * @returns The piece, or `null` if a line is too long.
 */
export function readPiece(
  source: ByteSource,
  pieces: Pieces,
  index: number,
  memory: Uint8Array,
): Piece | null {
  // One byte earlier: a newline there means that a line begins at the edge.
  const before = index === 0 ? 0 : 1;
  const offset = pieces.offset + index * pieceSize - before;
  const edge = Math.min(pieceSize + before, pieces.end - offset);
  const isLast = offset + edge === pieces.end;
  const wanted = isLast ? edge : Math.min(memory.length, pieces.end - offset);
  const step = isLast ? wanted : Math.min(wanted, edge + 4096);
  let filled = source.readInto(offset, memory.subarray(0, step));
  let end = isLast ? filled : memory.indexOf(10, edge - 1) + 1;
  if (!isLast && (end === 0 || end > filled)) {
    filled += source.readInto(
      offset + filled,
      memory.subarray(filled, wanted),
    );
    end = memory.indexOf(10, edge - 1) + 1;
    if (end === 0 || end > filled) return null;
  }
  const start = before === 0 ? 0 : memory.indexOf(10) + 1;
  if (before === 1 && start === 0) return null;
  return {
    bytes: memory.subarray(0, filled),
    start,
    end: Math.max(start, end),
  };
}
