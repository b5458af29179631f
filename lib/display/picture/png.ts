import { concat } from "@std/bytes/concat";
import { zlibModule } from "../../runtime/mod.ts";

/**
 * Writes a PNG file (ISO/IEC 15948) of 8-bit RGBA pixels, as they are.
 *
 * @param width In pixels.
 * @param height In pixels.
 * @param pixels Four bytes a pixel, row after row.
 * @returns The bytes of the file.
 */
export function encodePng(
  width: number,
  height: number,
  pixels: Uint8Array | Uint8ClampedArray,
): Uint8Array {
  return file(width, height, 6, rowsOf(width, height, 4, pixels), []);
}

/**
 * Writes a PNG file with a palette of at most 256 colours: a third of the size
 * of full colour for figures, which have few colours and their blends. The most
 * frequent colours stay exact, the others become the nearest of these.
 *
 * @param width In pixels.
 * @param height In pixels.
 * @param pixels Four bytes a pixel, row after row; opaque.
 * @returns The bytes of the file.
 */
export function encodePalettePng(
  width: number,
  height: number,
  pixels: Uint8Array | Uint8ClampedArray,
): Uint8Array {
  const count = width * height;
  // Red in the lowest byte; the highest byte, opacity, is left out.
  const words = new Uint32Array(pixels.slice(0, 4 * count).buffer);
  const frequency = new Map<number, number>();
  let before = -1;
  let run = 0;
  for (let k = 0; k < count; k++) {
    const colour = words[k]! & 0xffffff;
    if (colour === before) run++;
    else {
      if (run > 0) frequency.set(before, (frequency.get(before) ?? 0) + run);
      [before, run] = [colour, 1];
    }
  }
  frequency.set(before, (frequency.get(before) ?? 0) + run);
  const palette = [...frequency].sort(([a, m], [b, n]) => n - m || a - b)
    .slice(0, 256).map(([colour]) => colour);
  const index = new Map(palette.map((colour, k) => [colour, k]));
  for (const colour of frequency.keys()) {
    if (!index.has(colour)) index.set(colour, nearest(colour, palette));
  }
  const indices = new Uint8Array(count);
  before = -1;
  let last = 0;
  for (let k = 0; k < count; k++) {
    const colour = words[k]! & 0xffffff;
    if (colour !== before) [before, last] = [colour, index.get(colour)!];
    indices[k] = last;
  }
  const bytes = (colour: number) => [
    colour & 255,
    colour >> 8 & 255,
    colour >> 16,
  ];
  const table = Uint8Array.from(palette.flatMap(bytes));
  return file(width, height, 3, rowsOf(width, height, 1, indices), [
    chunk("PLTE", table),
  ]);
}

function nearest(colour: number, palette: readonly number[]): number {
  let best = 0;
  let least = Infinity;
  for (let k = 0; k < palette.length; k++) {
    const other = palette[k]!;
    const r = (colour & 255) - (other & 255);
    const g = (colour >> 8 & 255) - (other >> 8 & 255);
    const b = (colour >> 16) - (other >> 16);
    // Weights of the eye's sensitivity to red, green and blue.
    const distance = 3 * r * r + 6 * g * g + b * b;
    if (distance < least) [least, best] = [distance, k];
  }
  return best;
}

/** Each row with its filter byte in front: 0, no filter. */
function rowsOf(
  width: number,
  height: number,
  size: number,
  pixels: Uint8Array | Uint8ClampedArray,
): Uint8Array {
  const length = size * width;
  const rows = new Uint8Array(height * (length + 1));
  for (let row = 0; row < height; row++) {
    rows.set(
      pixels.subarray(row * length, (row + 1) * length),
      row * (length + 1) + 1,
    );
  }
  return rows;
}

function file(
  width: number,
  height: number,
  colourType: 3 | 6,
  rows: Uint8Array,
  extra: readonly Uint8Array[],
): Uint8Array {
  const { deflateSync } = zlibModule();
  return concat([
    Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a),
    chunk(
      "IHDR",
      concat([
        bytesOf(width),
        bytesOf(height),
        Uint8Array.of(8, colourType, 0, 0, 0),
      ]),
    ),
    ...extra,
    chunk("IDAT", deflateSync(rows, { level: 8 })),
    chunk("IEND", new Uint8Array(0)),
  ]);
}

function chunk(type: string, data: Uint8Array): Uint8Array {
  const body = concat([new TextEncoder().encode(type), data]);
  return concat([
    bytesOf(data.length),
    body,
    bytesOf(zlibModule().crc32(body)),
  ]);
}

/** An unsigned number in four bytes, the largest first. */
function bytesOf(value: number): Uint8Array {
  const bytes = new Uint8Array(4);
  new DataView(bytes.buffer).setUint32(0, value);
  return bytes;
}
