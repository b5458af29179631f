/**
 * The files that are read, made from a fixed seed.
 *
 * @module
 */
import { createRandom } from "fringebook/signal";
import type { DataFolder } from "../data.ts";

const encoder = new TextEncoder();

/** How the three numbers of a row are written. */
export type TextStyle = "short" | "exponent" | "full" | "comma" | "one";

const head = "time (s),monitor (V),drive (A)\n";
const headings: Record<TextStyle, string> = {
  short: head,
  exponent: head,
  full: head,
  comma: head.replaceAll(",", ";"),
  one: "",
};

const comma = (text: string) => text.replaceAll(".", ",");
const power = (value: number, digits: number) =>
  value.toExponential(digits).replace(/e([-+])(\d)$/, "E$10$2");

const lines: Record<TextStyle, (t: number, v: number, i: number) => string> = {
  short: (t, v, i) => `${t.toFixed(6)},${v.toFixed(5)},${i.toFixed(6)}\n`,
  exponent: (t, v, i) => `${power(t, 8)},${power(v, 6)},${power(i, 6)}\n`,
  full: (t, v, i) => `${t},${v},${i}\n`,
  comma: (t, v, i) =>
    comma(`${t.toFixed(6)};${v.toFixed(5)};${i.toFixed(6)}\n`),
  one: (_, v) => `${v.toFixed(6)}\n`,
};

/** Writes a text file: a noisy sine, and a triangle of 50 Hz, at 1 MHz. */
export function writeText(path: string, style: TextStyle, rows: number): void {
  const random = createRandom(1);
  using file = Deno.openSync(path, { create: true, write: true });
  writeAll(file, encoder.encode(headings[style]));
  const line = lines[style];
  for (let start = 0; start < rows; start += 10_000) {
    let text = "";
    for (let n = start; n < Math.min(rows, start + 10_000); n++) {
      const t = n / 1e6;
      const v = 0.5 * Math.sin(2 * Math.PI * 300 * t) + 0.01 * random.normal();
      const i = 0.04 + 0.001 * Math.abs((t * 50) % 2 - 1);
      text += line(t, v, i);
    }
    writeAll(file, encoder.encode(text));
  }
}

/** Types of number of the binary files. */
export type BinaryType = "float64" | "float32" | "int16";

const arrays = {
  float64: Float64Array,
  float32: Float32Array,
  int16: Int16Array,
};
const npyTypes = { float64: "<f8", float32: "<f4", int16: "<i2" };

/** Writes an .npy file of a sine and, as second column, its negative. */
export function writeNpy(
  path: string,
  type: BinaryType,
  samples: number,
  columns: 1 | 2,
): void {
  const shape = columns === 1 ? `(${samples},)` : `(${samples}, 2)`;
  const text = `{'descr': '${
    npyTypes[type]
  }', 'fortran_order': False, 'shape': ${shape}, }`;
  const length = Math.ceil((10 + text.length + 1) / 64) * 64 - 10;
  const start = new Uint8Array(10 + length);
  start.set([0x93, 0x4e, 0x55, 0x4d, 0x50, 0x59, 1, 0, length & 255]);
  start[9] = length >> 8;
  start.set(encoder.encode(text.padEnd(length - 1) + "\n"), 10);
  writeSine(path, start, type, samples, columns);
}

/** Writes a WAV file of 192 kHz with a sine and, in channel 2, its negative. */
export function writeWav(
  path: string,
  type: "float32" | "int16",
  samples: number,
  columns: 1 | 2,
): void {
  const size = arrays[type].BYTES_PER_ELEMENT;
  const bytes = samples * columns * size;
  const start = new DataView(new ArrayBuffer(44));
  const put = (at: number, text: string) =>
    encoder.encodeInto(text, new Uint8Array(start.buffer, at));
  put(0, "RIFF");
  start.setUint32(4, 36 + bytes, true);
  put(8, "WAVEfmt ");
  start.setUint32(16, 16, true);
  start.setUint16(20, type === "float32" ? 3 : 1, true);
  start.setUint16(22, columns, true);
  start.setUint32(24, 192_000, true);
  start.setUint32(28, 192_000 * columns * size, true);
  start.setUint16(32, columns * size, true);
  start.setUint16(34, 8 * size, true);
  put(36, "data");
  start.setUint32(40, bytes, true);
  writeSine(path, new Uint8Array(start.buffer), type, samples, columns);
}

function writeSine(
  path: string,
  start: Uint8Array,
  type: BinaryType,
  samples: number,
  columns: 1 | 2,
): void {
  using file = Deno.openSync(path, { create: true, write: true });
  writeAll(file, start);
  const scale = type === "int16" ? 32767 : 1;
  const block = 1 << 18;
  for (let from = 0; from < samples; from += block) {
    const count = Math.min(block, samples - from);
    const values = new arrays[type](count * columns);
    for (let n = 0; n < count; n++) {
      const value = 0.5 * Math.sin((from + n) / 50) * scale;
      values[n * columns] = value;
      if (columns === 2) values[2 * n + 1] = -value;
    }
    writeAll(file, new Uint8Array(values.buffer));
  }
}

function writeAll(file: Deno.FsFile, bytes: Uint8Array): void {
  for (let at = 0; at < bytes.length;) at += file.writeSync(bytes.subarray(at));
}

/** Makes a text file unless it is there. */
export function makeText(data: DataFolder, style: TextStyle, rows: number) {
  const name = `${style}_${rows}.csv`;
  return {
    file: data.path(name),
    prepare: () => data.make(name, (path) => writeText(path, style, rows)),
  };
}
