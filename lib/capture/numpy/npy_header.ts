import type { SampleType } from "../binary/sample_type.ts";
import type { ByteSource } from "../file/byte_source.ts";

/** One field of an array's elements. */
export interface NpyField {
  /** Field name of a structured array; `null` for a plain one. */
  readonly name: string | null;
  readonly type: SampleType;
  readonly littleEndian: boolean;
  /** Bytes from the start of the element. */
  readonly offset: number;
  /** Part of a complex number; `null` for a real one. */
  readonly part: "real" | "imaginary" | null;
}

/** Header of an .npy file (NEP 1, versions 1 to 3). */
export interface NpyHeader {
  readonly fields: readonly NpyField[];
  /** Bytes of one element. */
  readonly itemSize: number;
  readonly fortranOrder: boolean;
  readonly shape: readonly number[];
  /** Byte offset of the first element. */
  readonly dataOffset: number;
  /** Type text, such as `"<f8"`. */
  readonly descr: string;
  /** Characters of a text array's elements; 0 for numbers. */
  readonly characters: number;
}

/** Whether the bytes begin like an .npy file. */
export function looksLikeNpy(bytes: Uint8Array): boolean {
  return bytes[0] === 0x93 && bytes[1] === 0x4e && bytes[2] === 0x55 &&
    bytes[3] === 0x4d && bytes[4] === 0x50 && bytes[5] === 0x59;
}

/** Longest header that is read, in bytes. */
const longestHeader = 1 << 16;

/**
 * Reads the header of an .npy file. The header is a literal of one fixed form,
 * matched as text; nothing in it is ever run.
 *
 * @param source The file.
 * @param fail Makes the error from a reason and a byte offset.
 * @returns The header, checked against the size of the file.
 */
export function readNpyHeader(
  source: ByteSource,
  fail: (what: string, byteOffset: number) => Error,
): NpyHeader {
  const start = source.read(0, 12).slice();
  if (start.length < 10 || !looksLikeNpy(start)) {
    throw fail("it does not begin like an .npy file", 0);
  }
  const view = new DataView(start.buffer);
  const major = start[6]!;
  if (major < 1 || major > 3) {
    throw fail(`its version ${major} is not known`, 6);
  }
  const lengthSize = major === 1 ? 2 : 4;
  if (start.length < 8 + lengthSize) throw fail("its header is cut off", 8);
  const length = major === 1
    ? view.getUint16(8, true)
    : view.getUint32(8, true);
  const textOffset = 8 + lengthSize;
  if (length > longestHeader) {
    throw fail(`its header claims ${length} bytes`, 8);
  }
  if (textOffset + length > source.size) throw fail("its header is cut off", 8);
  const text = new TextDecoder(major === 3 ? "utf-8" : "latin1").decode(
    source.read(textOffset, length),
  ).trim();
  const match =
    /^\{\s*'descr'\s*:\s*(.+?),\s*'fortran_order'\s*:\s*(True|False)\s*,\s*'shape'\s*:\s*\(([\d,\s]*)\)\s*,?\s*\}$/s
      .exec(text);
  if (match === null) throw fail("its header is not understood", textOffset);
  const shape = match[3]!.split(",").map((part) => part.trim())
    .filter((part) => part !== "").map(Number);
  if (shape.length > 32 || !shape.every(Number.isSafeInteger)) {
    throw fail(
      `its shape (${match[3]!.slice(0, 60)}) is not valid`,
      textOffset,
    );
  }
  const descr = match[1]!.trim();
  const { fields, itemSize, characters } = parseType(
    descr,
    (what) => fail(what, textOffset),
  );
  const dataOffset = textOffset + length;
  const elements = shape.reduce((product, size) => product * size, 1);
  const needed = elements * itemSize;
  if (!Number.isSafeInteger(needed) || dataOffset + needed > source.size) {
    throw fail(
      `its shape (${shape.join(", ")}) needs ${needed} bytes but only ${
        source.size - dataOffset
      } are there: the file is cut off or damaged`,
      dataOffset,
    );
  }
  return {
    fields,
    itemSize,
    fortranOrder: match[2] === "True",
    shape,
    dataOffset,
    descr,
    characters,
  };
}

const simpleType = /^([<>|=]?)([a-zA-Z])(\d*)$/;

const kinds = new Map<string, SampleType>([
  ["f2", "float16"],
  ["f4", "float32"],
  ["f8", "float64"],
  ["i1", "int8"],
  ["i2", "int16"],
  ["i4", "int32"],
  ["i8", "int64"],
  ["u1", "uint8"],
  ["u2", "uint16"],
  ["u4", "uint32"],
  ["u8", "uint64"],
]);

function parseType(
  descr: string,
  fail: (what: string) => Error,
): { fields: NpyField[]; itemSize: number; characters: number } {
  const plain = /^'([^']*)'$/.exec(descr);
  if (plain !== null) return parseSimple(plain[1]!, null, 0, fail);
  if (!/^\[.*\]$/s.test(descr)) {
    throw fail("its element type is not understood");
  }
  const fields: NpyField[] = [];
  let itemSize = 0;
  const pattern =
    /\(\s*(?:'((?:[^'\\]|\\.)*)'|"((?:[^"\\]|\\.)*)")\s*,\s*'([^']*)'\s*\)\s*,?\s*/gy;
  const inner = descr.slice(1, -1).trim();
  let position = 0;
  while (position < inner.length) {
    pattern.lastIndex = position;
    const match = pattern.exec(inner);
    if (match === null || fields.length > 4096) {
      throw fail("its structured element type is not understood");
    }
    const name = (match[1] ?? match[2] ?? "").replace(/\\(.)/g, "$1");
    const field = parseSimple(match[3]!, name, itemSize, fail);
    fields.push(...field.fields);
    itemSize += field.itemSize;
    position = pattern.lastIndex;
  }
  if (itemSize === 0) throw fail("its element type has no field");
  return { fields, itemSize, characters: 0 };
}

function parseSimple(
  text: string,
  name: string | null,
  offset: number,
  fail: (what: string) => Error,
): { fields: NpyField[]; itemSize: number; characters: number } {
  const match = simpleType.exec(text);
  if (match === null) {
    throw fail(`its element type '${text.slice(0, 40)}' is not supported`);
  }
  const [, order, letter, digits] = match;
  const size = Number(digits);
  const littleEndian = order !== ">";
  if (letter === "U" && name === null && size <= 1 << 20) {
    return { fields: [], itemSize: Math.max(1, size * 4), characters: size };
  }
  if (letter === "V" && name !== null) {
    return { fields: [], itemSize: size, characters: 0 };
  }
  if (letter === "c" && (size === 8 || size === 16)) {
    const type: SampleType = size === 8 ? "float32" : "float64";
    return {
      fields: [
        { name, type, littleEndian, offset, part: "real" },
        {
          name,
          type,
          littleEndian,
          offset: offset + size / 2,
          part: "imaginary",
        },
      ],
      itemSize: size,
      characters: 0,
    };
  }
  const type = kinds.get(`${letter}${digits}`);
  if (type === undefined) {
    throw fail(
      letter === "O"
        ? "it holds Python objects, which are never loaded: save numbers"
        : `its element type '${text.slice(0, 40)}' is not supported`,
    );
  }
  return {
    fields: [{ name, type, littleEndian, offset, part: null }],
    itemSize: size,
    characters: 0,
  };
}
