/** Files that are small on the disk and large when they are unpacked. */
import { concat } from "@std/bytes/concat";

/** Packs so many bytes that say nothing into a file. */
export async function pack(
  format: "gzip" | "deflate-raw",
  path: string,
  size: number,
): Promise<void> {
  const piece = format === "gzip"
    ? new TextEncoder().encode("0\n".repeat(2 ** 19))
    : new Uint8Array(2 ** 20);
  let made = 0;
  const bytes = new ReadableStream<Uint8Array<ArrayBuffer>>({
    pull(controller) {
      if (made >= size) return controller.close();
      made += piece.length;
      controller.enqueue(piece);
    },
  });
  await bytes.pipeThrough(new CompressionStream(format))
    .pipeTo((await Deno.create(path)).writable);
}

/** A zip archive (APPNOTE 6.3) of members that all share the same bytes. */
export function zipOf(
  body: Uint8Array,
  size: number,
  names: readonly string[],
): Uint8Array {
  const header = (signature: number, length: number) => {
    const bytes = new Uint8Array(length);
    const view = new DataView(bytes.buffer);
    view.setUint32(0, signature, true);
    return { bytes, view };
  };
  const local = header(0x04034b50, 30);
  local.view.setUint16(8, 8, true);
  local.view.setUint32(18, body.length, true);
  local.view.setUint32(22, size, true);
  const parts: Uint8Array[] = [local.bytes, body];
  let directory = 0;
  for (const name of names) {
    const text = new TextEncoder().encode(name);
    const entry = header(0x02014b50, 46);
    entry.view.setUint16(10, 8, true);
    entry.view.setUint32(20, body.length, true);
    entry.view.setUint32(24, size, true);
    entry.view.setUint16(28, text.length, true);
    parts.push(entry.bytes, text);
    directory += 46 + text.length;
  }
  const end = header(0x06054b50, 22);
  end.view.setUint16(8, names.length, true);
  end.view.setUint16(10, names.length, true);
  end.view.setUint32(12, directory, true);
  end.view.setUint32(16, 30 + body.length, true);
  parts.push(end.bytes);
  return concat(parts);
}
