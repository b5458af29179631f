import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import { type Capture, type CaptureSource, createCapture } from "../capture.ts";
import { makeChannels, type RawChannel } from "../make_channels.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { place } from "../text/table_parser.ts";

/** Whether the bytes begin like a WAV file. */
export function looksLikeWav(bytes: Uint8Array): boolean {
  const id = ascii(bytes, 0, 4);
  return (id === "RIFF" || id === "RF64") && ascii(bytes, 8, 4) === "WAVE";
}

function ascii(bytes: Uint8Array, offset: number, length: number): string {
  return String.fromCharCode(...bytes.subarray(offset, offset + length));
}

interface WavFormat {
  readonly kind: "integer" | "float";
  readonly channelCount: number;
  readonly samplingRate: number;
  readonly bits: number;
  readonly blockAlign: number;
}

/** Reads a capture from the bytes of a WAV file. */
export function readWav(
  bytes: Uint8Array,
  options: ReadCaptureOptions,
  source: CaptureSource,
): Capture {
  const { fileName } = source;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const warnings: Warning[] = [];
  const metadata = new Map<string, string>();
  let format: WavFormat | null = null;
  let data: { offset: number; size: number } | null = null;
  let position = 12;
  while (position + 8 <= bytes.length) {
    const id = ascii(bytes, position, 4);
    const size = view.getUint32(position + 4, true);
    const body = position + 8;
    const available = Math.min(size, bytes.length - body);
    if (id === "fmt ") format = readFormat(view, body, available, fileName);
    if (id === "LIST") readInfo(bytes, body, available, metadata);
    if (id === "data") {
      data = { offset: body, size: available };
      if (available < size && size !== 0xffffffff) {
        warnings.push(warn(
          "truncated",
          `The file ends before its samples do: ${available} of ${size} bytes are there. The capture is incomplete`,
        ));
      }
    }
    position = body + size + (size & 1);
  }
  if (format === null || data === null) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as WAV as it has no '${
        format === null ? "fmt " : "data"
      }' chunk: the file is cut off or damaged`,
      { fileName, byteOffset: Math.min(position, bytes.length) },
    );
  }
  const count = Math.floor(data.size / format.blockAlign);
  if (count === 0) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as its data chunk holds no sample`,
      { fileName, byteOffset: data.offset },
    );
  }
  const raw = Array.from(
    { length: format.channelCount },
    (_, index): RawChannel => ({
      name: `channel ${index + 1}`,
      unit: "1",
      scale: 1,
      samples: decode(view, data!.offset, count, index, format!),
      fullScale: format!.kind === "integer" ? fullScale(format!.bits) : null,
    }),
  );
  const made = makeChannels(raw, options.channels ?? {});
  return createCapture(made.channels, {
    samplingRate: options.samplingRate ?? format.samplingRate,
    startTime: options.startTime ?? null,
    metadata: Object.fromEntries(metadata),
    source: { ...source, format: "WAV" },
    warnings: [...warnings, ...made.warnings],
  });
}

function fullScale(bits: number): { low: number; high: number } {
  const half = 2 ** (bits - 1);
  return { low: -1, high: (half - 1) / half };
}

function readFormat(
  view: DataView,
  offset: number,
  size: number,
  fileName: string | null,
): WavFormat {
  const fail = (what: string) =>
    new CaptureFormatError(
      `Cannot read ${place(fileName)} as WAV as ${what}`,
      { fileName, byteOffset: offset },
    );
  if (size < 16) throw fail(`its format chunk has ${size} bytes, not 16`);
  let tag = view.getUint16(offset, true);
  const channelCount = view.getUint16(offset + 2, true);
  const samplingRate = view.getUint32(offset + 4, true);
  const bits = view.getUint16(offset + 14, true);
  if (tag === 0xfffe && size >= 26) tag = view.getUint16(offset + 24, true);
  const kind = tag === 1 ? "integer" : tag === 3 ? "float" : null;
  const known = kind === "integer"
    ? [8, 16, 24, 32].includes(bits)
    : [32, 64].includes(bits);
  if (kind === null || !known) {
    throw fail(
      `format ${tag} with ${bits} bits is not supported: PCM of 8, 16, 24, 32 bits and float of 32, 64 bits are`,
    );
  }
  if (channelCount === 0) throw fail("it claims 0 channels");
  if (samplingRate === 0) throw fail("it claims a sampling rate of 0 Hz");
  const blockAlign = channelCount * bits / 8;
  return { kind, channelCount, samplingRate, bits, blockAlign };
}

function decode(
  view: DataView,
  offset: number,
  count: number,
  channel: number,
  { kind, bits, blockAlign }: WavFormat,
): Float64Array {
  const samples = new Float64Array(count);
  let at = offset + channel * bits / 8;
  for (let index = 0; index < count; index++, at += blockAlign) {
    samples[index] = kind === "float"
      ? (bits === 32 ? view.getFloat32(at, true) : view.getFloat64(at, true))
      : bits === 16
      ? view.getInt16(at, true) / 32768
      : bits === 24
      ? (view.getUint16(at, true) + view.getInt8(at + 2) * 65536) / 8388608
      : bits === 32
      ? view.getInt32(at, true) / 2147483648
      : (view.getUint8(at) - 128) / 128;
  }
  return samples;
}

const infoNames: Readonly<Record<string, string>> = {
  INAM: "title",
  IART: "author",
  ICMT: "comment",
  ICRD: "date",
  ISFT: "software",
};

function readInfo(
  bytes: Uint8Array,
  offset: number,
  size: number,
  metadata: Map<string, string>,
): void {
  if (size < 4 || ascii(bytes, offset, 4) !== "INFO") return;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let at = offset + 4;
  while (at + 8 <= offset + size) {
    const id = ascii(bytes, at, 4);
    const length = Math.min(
      view.getUint32(at + 4, true),
      offset + size - at - 8,
    );
    const text = new TextDecoder().decode(
      bytes.subarray(at + 8, at + 8 + length),
    ).replace(/\0.*$/s, "");
    metadata.set(infoNames[id] ?? id, text.slice(0, 10_000));
    at += 8 + length + (length & 1);
  }
}
