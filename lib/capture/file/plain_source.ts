import { CaptureFormatError } from "../../errors/mod.ts";
import { joinBytes } from "../../memory/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import { place } from "../place.ts";
import { zlibModule } from "../../runtime/mod.ts";
import { type ByteSource, fileSource, memorySource } from "./byte_source.ts";
import { looksLikeGzip, utf16Mark } from "./identify.ts";
import {
  allowedExcess,
  defaultMaximumSize,
  densest,
  densestLarge,
  large,
  mostUnpacked,
} from "./unpacked_size.ts";

/** Most bytes a temporary unpacked file may take by default: 64 GiB. */
const largestUnpacked = 2 ** 36;
/** Packed bytes that are unpacked at once. */
const pieceSize = 1 << 14;

function tooLarge(fileName: string | null, limit: number) {
  return new CaptureFormatError(
    `Cannot read ${
      place(fileName)
    } as it holds more than ${limit} bytes after decompression. Raise 'maximumSize' if the file is yours`,
    { fileName },
  );
}

function tooDense(fileName: string | null) {
  return new CaptureFormatError(
    `Cannot read ${
      place(fileName)
    } as its bytes become more than ${densest} times as many after decompression, or more than ${densestLarge} times where that is over ${
      large / 1e6
    } MB, which no recorder's do. Give 'maximumSize' if the file is yours`,
    { fileName },
  );
}

function damaged(fileName: string | null) {
  return new CaptureFormatError(
    `Cannot read ${
      place(fileName)
    } as its gzip compression is damaged or cut off`,
    { fileName },
  );
}

/**
 * Undoes gzip and UTF-16 in memory.
 *
 * @param bytes The file.
 * @param maximumSize Most bytes after decompression; `undefined` for the usual
 * ones, which also hold against files that are all but empty of content.
 * @param fileName Name for messages.
 * @returns Bytes of a plain file.
 */
export function plainBytes(
  bytes: Uint8Array,
  maximumSize: number | undefined,
  fileName: string | null,
): Uint8Array {
  return decoded(
    looksLikeGzip(bytes) ? unzipped(bytes, maximumSize, fileName) : bytes,
  );
}

function unzipped(
  bytes: Uint8Array,
  maximumSize: number | undefined,
  fileName: string | null,
): Uint8Array {
  const limit = maximumSize ??
    Math.min(defaultMaximumSize, mostUnpacked(bytes.length));
  try {
    if (maximumSize === undefined) probe(bytes);
    const out = zlibModule().gunzipSync(bytes, { maxOutputLength: limit });
    return new Uint8Array(out.buffer, out.byteOffset, out.byteLength);
  } catch (error) {
    const code = (error as { code?: string }).code;
    throw code !== "ERR_BUFFER_TOO_LARGE"
      ? damaged(fileName)
      : limit === (maximumSize ?? defaultMaximumSize)
      ? tooLarge(fileName, limit)
      : tooDense(fileName);
  }
}

/** Unpacks growing parts of the beginning, so that a bomb goes off small. */
function probe(bytes: Uint8Array): void {
  const { gunzipSync, constants } = zlibModule();
  for (let length = 1 << 16; length < bytes.length; length *= 8) {
    gunzipSync(bytes.subarray(0, length), {
      maxOutputLength: mostUnpacked(length),
      finishFlush: constants.Z_SYNC_FLUSH,
    });
  }
}

function decoded(plain: Uint8Array): Uint8Array {
  const mark = utf16Mark(plain);
  return mark === null
    ? plain
    : new TextEncoder().encode(new TextDecoder(mark).decode(plain));
}

/**
 * Opens a file for block-wise reading. A gzip or UTF-16 file is first turned
 * into a plain temporary file, so that memory stays bounded; closing the source
 * removes it.
 */
export async function plainFile(
  path: string | URL,
  maximumSize: number | undefined,
  fileName: string | null,
): Promise<ByteSource> {
  const source = fileSource(path);
  const head = source.read(0, 16).slice();
  const gzip = looksLikeGzip(head);
  if (!gzip && utf16Mark(head) === null) return source;
  source.close();
  if (gzip) {
    const plain = await toTemporary(
      unzipping(path, maximumSize, fileName),
      maximumSize ?? largestUnpacked,
      fileName,
    );
    const mark = utf16Mark(plain.read(0, 16));
    if (mark === null) return plain;
    plain.close();
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } block by block as it is UTF-16 text inside gzip: unpack it first`,
      { fileName },
    );
  }
  const mark = utf16Mark(head)!;
  const file = await Deno.open(path, { read: true });
  return toTemporary(
    file.readable.pipeThrough(new TextDecoderStream(mark))
      .pipeThrough(new TextEncoderStream()),
    maximumSize ?? largestUnpacked,
    fileName,
  );
}

/**
 * A gzip file unpacked piece by piece. Where the caller named no size, pieces
 * that become far more than any recorder's end it.
 */
async function* unzipping(
  path: string | URL,
  maximumSize: number | undefined,
  fileName: string | null,
  read = { size: 0 },
): AsyncGenerator<Uint8Array> {
  let fresh = 0;
  const packed = ReadableStream.from(pieces(path, (size) => {
    fresh += size;
    read.size += size;
  }));
  let excess = 0;
  for await (
    const chunk of packed.pipeThrough(new DecompressionStream("gzip"))
  ) {
    excess = Math.max(0, excess + chunk.length - densest * fresh);
    fresh = 0;
    if (maximumSize === undefined && excess > allowedExcess) {
      throw tooDense(fileName);
    }
    yield chunk;
  }
}

/** A file in pieces so small that none becomes much when it is unpacked. */
async function* pieces(
  path: string | URL,
  tell: (size: number) => void,
): AsyncGenerator<Uint8Array<ArrayBuffer>> {
  const file = await Deno.open(path, { read: true });
  try {
    for (;;) {
      const piece = new Uint8Array(pieceSize);
      const size = await file.read(piece);
      if (size === null) return;
      tell(size);
      yield piece.subarray(0, size);
    }
  } finally {
    file.close();
  }
}

/**
 * A gzip file unpacked into memory; see `plainBytes`.
 *
 * @param path The file.
 */
export async function unzippedFile(
  path: string | URL,
  maximumSize: number | undefined,
  fileName: string | null,
): Promise<Uint8Array<ArrayBuffer>> {
  const limit = maximumSize ?? defaultMaximumSize;
  const packed = { size: 0 };
  const pieces: Uint8Array<ArrayBuffer>[] = [];
  let size = 0;
  try {
    for await (const piece of unzipping(path, maximumSize, fileName, packed)) {
      checkpoint(NaN, "unpack");
      size += piece.length;
      if (size > limit) throw tooLarge(fileName, limit);
      if (maximumSize === undefined && size > mostUnpacked(packed.size)) {
        throw tooDense(fileName);
      }
      pieces.push(piece as Uint8Array<ArrayBuffer>);
    }
  } catch (error) {
    throw isOfStream(error) ? damaged(fileName) : error;
  }
  return joinBytes(pieces, "unpack");
}

/** Whether the bytes are at fault, and not the system, a limit or a person. */
function isOfStream(error: unknown): boolean {
  return error instanceof TypeError || error instanceof RangeError;
}

async function toTemporary(
  stream: AsyncIterable<Uint8Array>,
  maximumSize: number,
  fileName: string | null,
): Promise<ByteSource> {
  const path = await Deno.makeTempFile({
    prefix: "fringebook-",
    suffix: ".tmp",
  });
  const file = await Deno.open(path, { write: true });
  let size = 0;
  try {
    for await (const chunk of stream) {
      size += chunk.length;
      if (size > maximumSize) throw tooLarge(fileName, maximumSize);
      for (let at = 0; at < chunk.length;) {
        at += await file.write(chunk.subarray(at));
      }
    }
  } catch (error) {
    await Deno.remove(path);
    throw error instanceof CaptureFormatError ? error : damaged(fileName);
  } finally {
    file.close();
  }
  const source = fileSource(path);
  return {
    ...source,
    close() {
      source.close();
      Deno.removeSync(path);
    },
  };
}

/** Bytes of a file in memory as a source, gzip and UTF-16 undone. */
export function plainMemory(
  bytes: Uint8Array,
  maximumSize: number | undefined,
  fileName: string | null,
  owned: boolean,
): ByteSource {
  const plain = plainBytes(bytes, maximumSize, fileName);
  return memorySource(plain, owned || plain !== bytes);
}

/** Bytes that are ours as a source, UTF-16 undone. */
export function decodedMemory(bytes: Uint8Array): ByteSource {
  return memorySource(decoded(bytes), true);
}
