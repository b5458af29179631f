import { zlibModule } from "../../runtime/mod.ts";
import { type ByteSource, memorySource, partOf } from "../file/byte_source.ts";

/** One member of a zip archive. */
export interface ZipMember {
  readonly name: string;
  /** Compression method: 0 stored, 8 deflated. */
  readonly method: number;
  readonly compressedSize: number;
  readonly size: number;
  /** Byte offset of the member's local header. */
  readonly headerOffset: number;
}

/** Whether the bytes begin like a zip archive. */
export function looksLikeZip(bytes: Uint8Array): boolean {
  return bytes[0] === 0x50 && bytes[1] === 0x4b &&
    ((bytes[2] === 3 && bytes[3] === 4) || (bytes[2] === 5 && bytes[3] === 6));
}

/** Most members listed. */
const mostMembers = 10_000;

/**
 * Lists the members of a zip archive from its central directory (APPNOTE 6.3,
 * with 64-bit sizes). Names are kept as text and never used as paths.
 */
export function listZip(
  source: ByteSource,
  fail: (what: string, byteOffset: number) => Error,
): ZipMember[] {
  const tailSize = Math.min(source.size, 65557);
  const tail = source.read(source.size - tailSize, tailSize).slice();
  const view = new DataView(tail.buffer);
  let end = tail.length - 22;
  while (end >= 0 && view.getUint32(end, true) !== 0x06054b50) end--;
  if (end < 0) {
    throw fail(
      "its archive directory is missing: the file is cut off",
      source.size,
    );
  }
  let count = view.getUint16(end + 10, true);
  let size = view.getUint32(end + 12, true);
  let offset = view.getUint32(end + 16, true);
  const locator = end - 20;
  if (locator >= 0 && view.getUint32(locator, true) === 0x07064b50) {
    const at = Number(view.getBigUint64(locator + 8, true));
    const record = source.read(at, 56).slice();
    const long = new DataView(record.buffer);
    if (record.length === 56 && long.getUint32(0, true) === 0x06064b50) {
      count = Number(long.getBigUint64(32, true));
      size = Number(long.getBigUint64(40, true));
      offset = Number(long.getBigUint64(48, true));
    }
  }
  if (count > mostMembers) throw fail(`its archive claims ${count} members`, 0);
  if (offset + size > source.size) {
    throw fail("its archive directory lies outside the file", 0);
  }
  const directory = source.read(offset, Math.min(size, 1 << 24)).slice();
  return readDirectory(
    directory,
    count,
    () => fail("its archive directory is damaged", offset),
  );
}

function readDirectory(
  bytes: Uint8Array,
  count: number,
  fail: () => Error,
): ZipMember[] {
  const view = new DataView(bytes.buffer);
  const members: ZipMember[] = [];
  let at = 0;
  for (let index = 0; index < count; index++) {
    if (at + 46 > bytes.length || view.getUint32(at, true) !== 0x02014b50) {
      throw fail();
    }
    const nameLength = view.getUint16(at + 28, true);
    const extraLength = view.getUint16(at + 30, true);
    const commentLength = view.getUint16(at + 32, true);
    const extra = at + 46 + nameLength;
    const next = extra + extraLength + commentLength;
    if (next > bytes.length) throw fail();
    const sizes = [
      view.getUint32(at + 24, true),
      view.getUint32(at + 20, true),
      view.getUint32(at + 42, true),
    ];
    readLongSizes(view, extra, extraLength, sizes);
    members.push({
      name: new TextDecoder().decode(bytes.subarray(at + 46, extra)),
      method: view.getUint16(at + 10, true),
      size: sizes[0]!,
      compressedSize: sizes[1]!,
      headerOffset: sizes[2]!,
    });
    at = next;
  }
  return members;
}

function readLongSizes(
  view: DataView,
  start: number,
  length: number,
  sizes: number[],
): void {
  let at = start;
  while (at + 4 <= start + length) {
    const id = view.getUint16(at, true);
    const size = view.getUint16(at + 2, true);
    if (id === 1) {
      let from = at + 4;
      sizes.forEach((value, index) => {
        if (value === 0xffffffff && from + 8 <= start + length) {
          sizes[index] = Number(view.getBigUint64(from, true));
          from += 8;
        }
      });
    }
    at += 4 + size;
  }
}

/**
 * Opens a member: a stored one in place, a deflated one in memory. Its claimed
 * size is checked against the file (deflate makes at most 1032 bytes of one) and
 * against `maximumSize` before any memory is taken.
 */
export function openMember(
  source: ByteSource,
  member: ZipMember,
  maximumSize: number,
  fail: (what: string, byteOffset: number) => Error,
): ByteSource {
  const { headerOffset, compressedSize, size, method, name } = member;
  const shown = name.slice(0, 60);
  const head = source.read(headerOffset, 30).slice();
  if (head.length < 30) {
    throw fail(`its member '${shown}' lies outside the file`, headerOffset);
  }
  const view = new DataView(head.buffer);
  if (view.getUint32(0, true) !== 0x04034b50) {
    throw fail(`its member '${shown}' is damaged`, headerOffset);
  }
  const start = headerOffset + 30 + view.getUint16(26, true) +
    view.getUint16(28, true);
  if (start + compressedSize > source.size) {
    throw fail(
      `its member '${shown}' claims ${compressedSize} bytes but the file ends before`,
      start,
    );
  }
  if (method === 0) {
    if (size !== compressedSize) {
      throw fail(`its member '${shown}' contradicts its own size`, start);
    }
    return partOf(source, start, size);
  }
  if (method !== 8) {
    throw fail(
      `its member '${shown}' is compressed in an unknown way (${method})`,
      start,
    );
  }
  if (size > maximumSize || size > compressedSize * 1032 + 1024) {
    throw fail(
      `its member '${shown}' claims ${size} bytes after decompression, more than allowed. Raise 'maximumSize' if the file is yours`,
      start,
    );
  }
  try {
    const bytes = zlibModule().inflateRawSync(
      source.read(start, compressedSize),
      {
        maxOutputLength: Math.max(1, size),
      },
    );
    return memorySource(
      new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.byteLength),
    );
  } catch {
    throw fail(`its member '${shown}' cannot be decompressed`, start);
  }
}
