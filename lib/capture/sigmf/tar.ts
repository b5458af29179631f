import { joinBytes } from "../../memory/mod.ts";
import type { ByteSource } from "../file/byte_source.ts";

/** One regular file in a tar archive. */
export interface TarMember {
  /** Name as stored; kept as text, never used as a path. */
  readonly name: string;
  /** Byte offset of the contents. */
  readonly offset: number;
  readonly size: number;
}

/** Whether the bytes begin like a POSIX tar archive. */
export function looksLikeTar(bytes: Uint8Array): boolean {
  return bytes.length >= 263 &&
    String.fromCharCode(...bytes.subarray(257, 262)) === "ustar";
}

const block = 512;
const mostMembers = 10_000;

/** Lists the regular files of a POSIX tar archive. */
export function listTar(
  source: ByteSource,
  fail: (what: string, byteOffset: number) => Error,
): TarMember[] {
  const members: TarMember[] = [];
  let at = 0;
  let longName: string | null = null;
  for (let count = 0; at + block <= source.size; count++) {
    if (count > mostMembers) throw fail("its archive has too many members", at);
    const head = source.read(at, block).slice();
    if (head.every((byte) => byte === 0)) break;
    const size = readNumber(head.subarray(124, 136));
    const stated = readNumber(head.subarray(148, 156));
    if (!Number.isSafeInteger(size) || size < 0 || stated !== checksum(head)) {
      throw fail("its archive is damaged", at);
    }
    const offset = at + block;
    if (offset + size > source.size) {
      throw fail(
        `its archive claims a member of ${size} bytes but ends before`,
        at,
      );
    }
    const type = String.fromCharCode(head[156]!);
    const prefix = cString(head.subarray(345, 500));
    const name = longName ?? (prefix === "" ? "" : `${prefix}/`) +
        cString(head.subarray(0, 100));
    longName = null;
    if (type === "0" || type === "\0") members.push({ name, offset, size });
    else if ((type === "L" || type === "x") && size <= 65536) {
      const text = new TextDecoder().decode(source.read(offset, size));
      longName = type === "L"
        ? text.split("\0")[0]!
        : /(?:^|\n)\d+ path=([^\n]*)/.exec(text)?.[1] ?? null;
    }
    at = offset + Math.ceil(size / block) * block;
  }
  return members;
}

function cString(bytes: Uint8Array): string {
  const end = bytes.indexOf(0);
  return new TextDecoder().decode(end < 0 ? bytes : bytes.subarray(0, end));
}

/** Octal digits, or a big-endian number marked by the top bit. */
function readNumber(bytes: Uint8Array): number {
  if (bytes[0]! & 0x80) {
    let value = bytes[0]! & 0x7f;
    for (const byte of bytes.subarray(1)) value = value * 256 + byte;
    return value;
  }
  const text = cString(bytes).trim();
  return text === "" ? 0 : /^[0-7]+$/.test(text) ? parseInt(text, 8) : NaN;
}

function checksum(head: Uint8Array): number {
  let sum = 0;
  for (let index = 0; index < block; index++) {
    sum += index >= 148 && index < 156 ? 32 : head[index]!;
  }
  return sum;
}

/** Makes a tar archive; no clock time, owner or device goes in. */
export function makeTar(
  members: readonly { name: string; bytes: Uint8Array }[],
): Uint8Array<ArrayBuffer> {
  const parts: Uint8Array[] = [];
  for (const { name, bytes } of members) {
    const head = new Uint8Array(block);
    const put = (text: string, at: number) =>
      head.set(new TextEncoder().encode(text), at);
    const encoded = new TextEncoder().encode(name);
    if (encoded.length > 100) {
      throw new RangeError(
        `Cannot archive '${name}' as its name is longer than 100 bytes`,
      );
    }
    head.set(encoded, 0);
    put("0000644\0", 100);
    put("0000000\0", 108);
    put("0000000\0", 116);
    if (bytes.length < 8 ** 11) {
      put(`${bytes.length.toString(8).padStart(11, "0")}\0`, 124);
    } else {
      let rest = bytes.length;
      for (let at = 135; at > 124; at--) {
        head[at] = rest % 256;
        rest = Math.floor(rest / 256);
      }
      head[124] = 0x80;
    }
    put("00000000000\0", 136);
    put("0", 156);
    put("ustar\u000000", 257);
    put(`${checksum(head).toString(8).padStart(6, "0")}\0 `, 148);
    parts.push(head, bytes);
    const rest = bytes.length % block;
    if (rest > 0) parts.push(new Uint8Array(block - rest));
  }
  parts.push(new Uint8Array(2 * block));
  return joinBytes(parts, "write samples");
}
