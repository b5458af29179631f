import { CaptureFormatError } from "../../../errors/mod.ts";
import { checkpoint } from "../../../progress/mod.ts";
import type { ByteSource } from "../../file/byte_source.ts";
import { place } from "../../place.ts";
import type { OpenedText } from "../open_text.ts";
import { finishText, type ParsedText, TextReader } from "../parse_text.ts";
import { textChunks } from "../text_chunks.ts";
import { Claims } from "./claims.ts";
import type { ParseAnswer, ParsedPiece, ParseOrder } from "./parse_worker.ts";
import { countPieces, pieceMemory, type Pieces, readPiece } from "./pieces.ts";

/** Longest last line of a file that is parsed in parallel, in bytes. */
const longestLast = 1 << 16;

/**
 * Parses every row of a file in several threads; the result is to the bit that
 * of `parseText`. Workers parse pieces of plain rows from the back; this thread
 * first does `meanwhile`, then parses from the front, and at last joins all in
 * order. A piece in which a worker meets anything but rows of numbers is parsed
 * again here, where headings and line numbers are known.
 *
 * @param path The file.
 * @param source The same file, open.
 * @param opened Its layout.
 * @param fileName Name for messages.
 * @param workers Threads beside this one.
 * @param meanwhile Other work to do while the workers are at theirs.
 * @returns The rows, or `null` if the file cannot be cut into pieces.
 */
export async function parseParallel(
  path: string,
  source: ByteSource,
  opened: OpenedText,
  fileName: string | null,
  workers: number,
  meanwhile: () => void,
): Promise<ParsedText | null> {
  const pieces = findPieces(source, opened.dataOffset);
  if (pieces === null) return null;
  const count = countPieces(pieces);
  if (count > 0x7fff) return null;
  const claims = new Claims(count);
  const before = Deno.statSync(path);
  const answers = new Map<number, ParsedPiece>();
  const crew = startCrew(
    Math.min(workers, count - 1),
    {
      path,
      layout: opened.layout,
      pieces,
      claims: claims.memory,
      rowSize: opened.rowSize,
    },
    (piece) => answers.set(piece.index, piece),
  );
  try {
    meanwhile();
    const expected = (source.size - opened.dataOffset) / opened.rowSize * 1.05;
    const reader = new TextReader(opened, fileName, Math.ceil(expected) + 16);
    const memory = pieceMemory();
    const parseHere = (index: number) => {
      const piece = readPiece(source, pieces, index, memory);
      if (piece === null) return false;
      const offset = pieces.offset;
      reader.add({ ...piece, offset, unterminated: false });
      return true;
    };
    let next = 0;
    for (let at = claims.front(); at >= 0; at = claims.front()) {
      checkpoint(at / count, "parse text");
      if (!parseHere(at)) return null;
      next = at + 1;
    }
    await crew.done;
    for (; next < count; next++) {
      checkpoint(next / count, "join text");
      const piece = answers.get(next);
      answers.delete(next);
      // Inside a heading, only the reader knows where rows begin again.
      if (piece !== undefined && !reader.inHeading) reader.parser.append(piece);
      else if (!parseHere(next)) return null;
    }
    for (const chunk of textChunks(source, pieces.end, fileName)) {
      reader.add(chunk);
    }
    const after = Deno.statSync(path);
    if (
      after.size !== before.size ||
      after.mtime?.getTime() !== before.mtime?.getTime()
    ) {
      throw new CaptureFormatError(
        `Cannot read ${
          place(fileName)
        } as it changed while it was read: read it again once it is complete`,
        { fileName },
      );
    }
    return finishText(reader, opened, fileName);
  } finally {
    claims.stop();
    crew.end();
  }
}

/** Where the table lies, up to the last newline; `null` if that is far away. */
function findPieces(source: ByteSource, offset: number): Pieces | null {
  const from = Math.max(offset, source.size - longestLast);
  const end = source.read(from, source.size - from).lastIndexOf(10);
  return end < 0 ? null : { offset, end: from + end + 1 };
}

/**
 * Starts workers on an order. One that cannot start or fails ends early: what it
 * leaves is parsed by the main thread.
 */
function startCrew(
  size: number,
  order: ParseOrder,
  take: (piece: ParsedPiece) => void,
): { done: Promise<unknown>; end: () => void } {
  const workers: Worker[] = [];
  const done: Promise<void>[] = [];
  for (let index = 0; index < size; index++) {
    let worker: Worker;
    try {
      worker = new Worker(new URL("./parse_worker.ts", import.meta.url), {
        type: "module",
      });
    } catch {
      break;
    }
    workers.push(worker);
    done.push(
      new Promise((resolve) => {
        worker.onmessage = ({ data }: MessageEvent<ParseAnswer>) => {
          if (data === null) resolve();
          else take(data);
        };
        worker.onerror = (event) => {
          event.preventDefault();
          resolve();
        };
      }),
    );
    worker.postMessage(order);
  }
  return {
    done: Promise.all(done),
    end: () => workers.forEach((worker) => worker.terminate()),
  };
}
