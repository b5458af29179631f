import { checkpoint } from "../../progress/mod.ts";
import type { Capture, Samples } from "../capture.ts";
import { zlibModule } from "../../runtime/mod.ts";
import { formatDescription } from "../description.ts";
import { interleavedParts, putFloat64 } from "./interleave.ts";

/**
 * An .npy file: a plain array for one channel, a structured one with a field per
 * channel (`"monitor (V)"`) for more. NPY holds no sampling rate.
 */
export function* npyParts(
  capture: Capture,
): Generator<Uint8Array<ArrayBuffer>> {
  const { channels, sampleCount } = capture;
  const headings = uniqueNames(
    channels.map(({ name, unit }) => `${name} (${unit})`),
  );
  const quote = (text: string) =>
    `'${text.replace(/[\r\n\0]/g, " ").replace(/['\\]/g, "\\$&")}'`;
  const descr = channels.length === 1
    ? "'<f8'"
    : `[${headings.map((text) => `(${quote(text)}, '<f8')`).join(", ")}]`;
  yield npyHeader(descr, `(${sampleCount},)`);
  yield* interleavedParts(channels, 8, putFloat64);
}

function npyHeader(descr: string, shape: string): Uint8Array<ArrayBuffer> {
  const text =
    `{'descr': ${descr}, 'fortran_order': False, 'shape': ${shape}, }`;
  // deno-lint-ignore no-control-regex
  const ascii = /^[\x00-\x7f]*$/.test(text);
  const encoded = new TextEncoder().encode(text);
  const long = !ascii || encoded.length > 60_000;
  const start = long ? 12 : 10;
  const total = Math.ceil((start + encoded.length + 1) / 64) * 64;
  const bytes = new Uint8Array(total).fill(32);
  bytes.set([
    0x93,
    0x4e,
    0x55,
    0x4d,
    0x50,
    0x59,
    ascii ? (long ? 2 : 1) : 3,
    0,
  ]);
  const view = new DataView(bytes.buffer);
  if (long) view.setUint32(8, total - 12, true);
  else view.setUint16(8, total - 10, true);
  bytes.set(encoded, start);
  bytes[total - 1] = 10;
  return bytes;
}

function uniqueNames(names: readonly string[]): string[] {
  const seen = new Set<string>();
  return names.map((name) => {
    let unique = name;
    for (let n = 2; seen.has(unique); n++) unique = `${name} ${n}`;
    seen.add(unique);
    return unique;
  });
}

/**
 * An .npz archive: one array per channel, `sampling_rate` in Hz, and the
 * description as text.
 */
export function* npzParts(
  capture: Capture,
): Generator<Uint8Array<ArrayBuffer>> {
  const { channels, samplingRate, sampleCount } = capture;
  const names = uniqueNames(
    channels.map(({ name, unit }) =>
      `${name} (${unit})`.replace(/[^\p{L}\p{N} _.()%°-]/gu, "_").slice(0, 100)
    ),
  );
  const members = [
    ...channels.map(({ samples }, index) => ({
      name: `${names[index]}.npy`,
      head: npyHeader("'<f8'", `(${sampleCount},)`),
      body: float64Bytes(samples),
    })),
    {
      name: "sampling_rate.npy",
      head: npyHeader("'<f8'", "()"),
      body: float64Bytes(Float64Array.of(samplingRate)),
    },
    textMember("description", formatDescription(capture)),
  ];
  yield* zipParts(members);
}

interface ZipInput {
  readonly name: string;
  readonly head: Uint8Array<ArrayBuffer>;
  readonly body: Uint8Array<ArrayBuffer>;
}

function textMember(name: string, text: string): ZipInput {
  const points = Array.from(text, (character) => character.codePointAt(0)!);
  const body = new Uint8Array(points.length * 4);
  const view = new DataView(body.buffer);
  points.forEach((point, index) => view.setUint32(index * 4, point, true));
  return {
    name: `${name}.npy`,
    head: npyHeader(`'<U${points.length}'`, "()"),
    body,
  };
}

function float64Bytes(samples: Samples): Uint8Array<ArrayBuffer> {
  const bytes = new Uint8Array(samples.length * 8);
  const view = new DataView(bytes.buffer);
  for (let index = 0; index < samples.length; index++) {
    if ((index & 0x1ffff) === 0x1ffff) checkpoint(NaN, "write samples");
    view.setFloat64(index * 8, samples[index]!, true);
  }
  return bytes;
}

/** Bytes between two checkpoints. */
const partSize = 1 << 22;

/** A zip archive without compression or clock times; 64-bit sizes throughout. */
function* zipParts(
  members: readonly ZipInput[],
): Generator<Uint8Array<ArrayBuffer>> {
  const { crc32 } = zlibModule();
  const directory: Uint8Array<ArrayBuffer>[] = [];
  let offset = 0;
  for (const { name, head, body } of members) {
    const encoded = new TextEncoder().encode(name);
    const size = BigInt(head.length + body.length);
    let crc = crc32(head);
    for (let at = 0; at < body.length; at += partSize) {
      checkpoint(NaN, "write samples");
      crc = crc32(body.subarray(at, at + partSize), crc);
    }
    const local = zipRecord(0x04034b50, 30, encoded, crc, [size, size]);
    directory.push(
      zipRecord(0x02014b50, 46, encoded, crc, [size, size, BigInt(offset)]),
    );
    yield local;
    yield head;
    yield body;
    offset += local.length + Number(size);
  }
  let size = 0;
  for (const entry of directory) {
    yield entry;
    size += entry.length;
  }
  const end = new Uint8Array(56 + 20 + 22);
  const view = new DataView(end.buffer);
  view.setUint32(0, 0x06064b50, true);
  view.setBigUint64(4, 44n, true);
  view.setUint16(12, 45, true);
  view.setUint16(14, 45, true);
  view.setBigUint64(24, BigInt(members.length), true);
  view.setBigUint64(32, BigInt(members.length), true);
  view.setBigUint64(40, BigInt(size), true);
  view.setBigUint64(48, BigInt(offset), true);
  view.setUint32(56, 0x07064b50, true);
  view.setBigUint64(64, BigInt(offset + size), true);
  view.setUint32(72, 1, true);
  view.setUint32(76, 0x06054b50, true);
  view.setUint16(84, members.length, true);
  view.setUint16(86, members.length, true);
  view.setUint32(88, Math.min(size, 0xffffffff), true);
  view.setUint32(92, 0xffffffff, true);
  yield end;
}

function zipRecord(
  signature: number,
  length: number,
  name: Uint8Array,
  crc: number,
  longSizes: readonly bigint[],
): Uint8Array<ArrayBuffer> {
  const central = signature === 0x02014b50;
  const extra = 4 + longSizes.length * 8;
  const bytes = new Uint8Array(length + name.length + extra);
  const view = new DataView(bytes.buffer);
  view.setUint32(0, signature, true);
  let at = 4;
  if (central) {
    view.setUint16(at, 45, true);
    at += 2;
  }
  view.setUint16(at, 45, true);
  view.setUint16(at + 2, 0x0800, true);
  view.setUint16(at + 8, 0x0021, true);
  view.setUint32(at + 10, crc, true);
  view.setUint32(at + 14, 0xffffffff, true);
  view.setUint32(at + 18, 0xffffffff, true);
  view.setUint16(at + 22, name.length, true);
  view.setUint16(at + 24, extra, true);
  if (central) view.setUint32(42, 0xffffffff, true);
  bytes.set(name, length);
  at = length + name.length;
  view.setUint16(at, 1, true);
  view.setUint16(at + 2, extra - 4, true);
  longSizes.forEach((size, index) =>
    view.setBigUint64(at + 4 + index * 8, size, true)
  );
  return bytes;
}
