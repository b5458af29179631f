import { CaptureFormatError } from "../../errors/mod.ts";
import { place } from "../place.ts";
import { zlibModule } from "../../runtime/mod.ts";
import { type ByteSource, fileSource, memorySource } from "./byte_source.ts";
import { looksLikeGzip, utf16Mark } from "./identify.ts";

/** Deflate makes at most 1032 bytes of one (RFC 1951). */
const deflateLimit = 1032;

function tooLarge(fileName: string | null, maximumSize: number) {
  return new CaptureFormatError(
    `Cannot read ${
      place(fileName)
    } as it holds more than ${maximumSize} bytes after decompression. Raise 'maximumSize' if the file is yours`,
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
 * @param maximumSize Most bytes after decompression.
 * @param fileName Name for messages.
 * @returns Bytes of a plain file.
 */
export function plainBytes(
  bytes: Uint8Array,
  maximumSize: number,
  fileName: string | null,
): Uint8Array {
  let plain = bytes;
  if (looksLikeGzip(plain)) {
    const limit = Math.min(maximumSize, bytes.length * deflateLimit + 1024);
    try {
      const out = zlibModule().gunzipSync(bytes, { maxOutputLength: limit });
      plain = new Uint8Array(out.buffer, out.byteOffset, out.byteLength);
    } catch (error) {
      const code = (error as { code?: string }).code;
      throw code === "ERR_BUFFER_TOO_LARGE"
        ? tooLarge(fileName, maximumSize)
        : damaged(fileName);
    }
  }
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
  maximumSize: number,
  fileName: string | null,
): Promise<ByteSource> {
  const source = fileSource(path);
  const head = source.read(0, 16).slice();
  const gzip = looksLikeGzip(head);
  if (!gzip && utf16Mark(head) === null) return source;
  source.close();
  if (gzip) {
    const file = await Deno.open(path, { read: true });
    const unzipped = await toTemporary(
      file.readable.pipeThrough(new DecompressionStream("gzip")),
      maximumSize,
      fileName,
    );
    const mark = utf16Mark(unzipped.read(0, 16));
    if (mark === null) return unzipped;
    unzipped.close();
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
    maximumSize,
    fileName,
  );
}

async function toTemporary(
  stream: ReadableStream<Uint8Array>,
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
  maximumSize: number,
  fileName: string | null,
  owned: boolean,
): ByteSource {
  const plain = plainBytes(bytes, maximumSize, fileName);
  return memorySource(plain, owned || plain !== bytes);
}
