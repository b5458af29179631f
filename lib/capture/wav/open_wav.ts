import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import type { SampleType } from "../binary/sample_type.ts";
import { describedChannels, parseDescription } from "../description.ts";
import type { ByteSource } from "../file/byte_source.ts";
import type { OpenedBinary, OpenedChannel } from "../file/opened_file.ts";
import { place } from "../place.ts";

/** Whether the bytes begin like a WAV file (RIFF, or RF64 of EBU Tech 3306). */
export function looksLikeWav(bytes: Uint8Array): boolean {
  const id = ascii(bytes, 0, 4);
  return (id === "RIFF" || id === "RF64" || id === "BW64") &&
    ascii(bytes, 8, 4) === "WAVE";
}

function ascii(bytes: Uint8Array, offset: number, length: number): string {
  return String.fromCharCode(...bytes.subarray(offset, offset + length));
}

interface WavFormat {
  readonly type: SampleType;
  readonly channelCount: number;
  readonly samplingRate: number;
  readonly bits: number;
  readonly validBits: number;
  readonly blockAlign: number;
  /** Bytes per second, as the file claims. */
  readonly claimedByteRate: number;
}

/** Most chunks looked at before a file is called damaged. */
const mostChunks = 10_000;
/** Longest text chunk that is read, in bytes. */
const longestText = 1 << 20;

/**
 * Reads the chunks of a WAV file up to and after its samples. Sizes are checked
 * against the file before anything is believed.
 */
export function openWav(
  source: ByteSource,
  fileName: string | null,
): OpenedBinary {
  const warnings: Warning[] = [];
  const metadata = new Map<string, string>();
  const longSizes = new Map<string, number>();
  const fail = (what: string, byteOffset: number) =>
    new CaptureFormatError(
      `Cannot read ${place(fileName)} as WAV as ${what}`,
      { fileName, byteOffset },
    );
  if (!looksLikeWav(source.read(0, 12))) {
    throw fail("it does not begin with RIFF or RF64 and WAVE", 0);
  }
  let format: WavFormat | null = null;
  let data: { offset: number; size: number } | null = null;
  let position = 12;
  for (let chunk = 0; position + 8 <= source.size; chunk++) {
    if (chunk >= mostChunks) {
      throw fail(`it has over ${mostChunks} chunks`, position);
    }
    const head = source.read(position, 8).slice();
    const id = ascii(head, 0, 4);
    // Behind the samples, what has no name of a chunk is none.
    if (data !== null && !/^[ -~]{4}$/.test(id)) break;
    const claimed = new DataView(head.buffer).getUint32(4, true);
    const size = claimed === 0xffffffff
      ? longSizes.get(id) ?? source.size - position - 8
      : claimed;
    const body = position + 8;
    const available = Math.min(size, source.size - body);
    if (id === "ds64" && available >= 28) {
      readLongSizes(source.read(body, Math.min(available, 65536)), longSizes);
    } else if (id === "fmt ") {
      format = readFormat(
        source.read(body, Math.min(available, 64)),
        (what) => fail(what, body),
      );
    } else if (id === "LIST") {
      readInfo(source.read(body, Math.min(available, longestText)), metadata);
    } else if (id === "data" && data === null) {
      // Recorders that write to a pipe leave 0 or a round number for the size.
      const unknown = id === "data" && !longSizes.has("data") &&
        (claimed >= 0x7fff0000 || (claimed === 0 && body < source.size));
      if (unknown) {
        data = { offset: body, size: source.size - body };
        warnings.push(warn(
          "length-unknown",
          "The file does not say how many samples it holds: all bytes to its end were taken for samples",
          "note",
        ));
        position = source.size;
        continue;
      }
      data = { offset: body, size: available };
      if (available < size) {
        warnings.push(warn(
          "truncated",
          `The file ends before its samples do: ${available} of ${size} bytes are there. The capture is incomplete`,
        ));
      }
    }
    position = body + size + (size % 2);
  }
  if (format === null || data === null) {
    throw fail(
      `it has no '${
        format === null ? "fmt " : "data"
      }' chunk: the file is cut off or damaged`,
      Math.min(position, source.size),
    );
  }
  const { type, channelCount, blockAlign, bits, validBits } = format;
  warnings.push(
    ...contradictions(format, data.size, position, source.size),
    ...wrongSize(source, warnings.length > 0),
  );
  const sampleCount = Math.floor(data.size / blockAlign);
  if (sampleCount === 0) {
    throw fail("its data chunk holds no sample", data.offset);
  }
  const described = parseDescription(metadata.get("comment") ?? "");
  const isOurs = described !== null &&
    described.channels.length === channelCount && type.startsWith("float");
  const full = type.startsWith("float") ? null : fullScale(type);
  const channels: OpenedChannel[] = isOurs
    ? describedChannels(described)
    : Array.from({ length: channelCount }, (_, index) => ({
      name: `channel ${index + 1}`,
      unit: "1",
      scale: full === null ? 1 : 1 / full.half,
      step: full === null ? 1 : 1 / full.half,
      fullScale: full === null ? null : { low: full.low, high: full.high },
      role: null,
    }));
  return {
    format: "WAV",
    variant: `${
      full === null ? "float" : "PCM"
    } ${bits} bit, ${channelCount} channels`,
    channels: type === "uint8" ? channels.map(shiftUnsigned) : channels,
    samplingRate: isOurs ? described.samplingRate : format.samplingRate,
    startTime: isOurs ? described.startTime : null,
    metadata: isOurs ? described.metadata : Object.fromEntries(metadata),
    assumptions: isOurs ? [] : [{
      what: "unit",
      value: full === null ? "the file's numbers" : "part of full scale",
      because: `WAV holds no unit${
        validBits < bits
          ? `; ${validBits} of ${bits} bits are said to count`
          : ""
      }`,
      option: "channels",
    }],
    warnings,
    sampleCount,
    source,
    layouts: Array.from({ length: channelCount }, (_, index) => ({
      type,
      littleEndian: true,
      offset: data.offset + index * bits / 8,
      stride: blockAlign,
    })),
    timeChannel: null,
  };
}

/** Rates up to this many Hz are written into WAV files by real recorders. */
const highestRate = 1e9;

/** What a file says of itself that cannot all be true. */
function contradictions(
  { samplingRate, blockAlign, claimedByteRate }: WavFormat,
  dataSize: number,
  chunksEnd: number,
  fileSize: number,
): Warning[] {
  const warnings: Warning[] = [];
  const byteRate = samplingRate * blockAlign;
  // Written by some as 0; that of high rates does not fit into its field.
  if (
    claimedByteRate !== 0 && byteRate < 2 ** 32 && claimedByteRate !== byteRate
  ) {
    warnings.push(warn(
      "rate-disagrees",
      `The file says ${samplingRate} Hz but also ${claimedByteRate} bytes per second, which are ${
        claimedByteRate / blockAlign
      } Hz: ${samplingRate} Hz was used. Give 'samplingRate' to decide`,
    ));
  }
  if (samplingRate > highestRate) {
    warnings.push(warn(
      "sampling-rate-impossible",
      `The file says ${samplingRate} Hz, more than any recorder that writes WAV. Give the true one as 'samplingRate'`,
    ));
  }
  const rest = dataSize % blockAlign;
  if (rest > 0) {
    warnings.push(warn(
      "odd-size",
      `The samples take ${dataSize} bytes, which are no whole number of ${blockAlign} bytes each: the last ${rest} were left out`,
    ));
  }
  const behind = fileSize - chunksEnd;
  if (behind > 0) {
    warnings.push(warn(
      "bytes-left-out",
      `${behind} bytes at the end of the file belong to no part of it and were left out: its sizes may be wrong`,
    ));
  }
  return warnings;
}

/** Whether the file says another size of itself than it has; 1 byte may pad. */
function wrongSize(source: ByteSource, known: boolean): Warning[] {
  const claimed = new DataView(source.read(4, 4).slice().buffer)
    .getUint32(0, true);
  // Recorders that write to a pipe leave 0 or a round number.
  const silent = claimed === 0 || claimed >= 0x7fff0000;
  if (known || silent || Math.abs(claimed + 8 - source.size) <= 1) return [];
  return [warn(
    "size-disagrees",
    `The file says that it has ${
      claimed + 8
    } bytes, but it has ${source.size}: all samples that its data chunk names were read`,
    "note",
  )];
}

/** 8-bit WAV is unsigned with its zero at 128. */
function shiftUnsigned(channel: OpenedChannel): OpenedChannel {
  return { ...channel, zero: 128 };
}

function fullScale(
  type: SampleType,
): { low: number; high: number; half: number } {
  if (type === "uint8") return { low: 0, high: 255, half: 128 };
  const half = type === "int16"
    ? 2 ** 15
    : type === "int24"
    ? 2 ** 23
    : 2 ** 31;
  return { low: -half, high: half - 1, half };
}

function readLongSizes(
  bytes: Uint8Array,
  longSizes: Map<string, number>,
): void {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  const at = (offset: number) => Number(view.getBigUint64(offset, true));
  longSizes.set("RF64", at(0));
  longSizes.set("data", at(8));
  const count = Math.min(view.getUint32(24, true), 1000);
  for (let index = 0; index < count; index++) {
    const offset = 28 + index * 12;
    if (offset + 12 > bytes.length) break;
    longSizes.set(ascii(bytes, offset, 4), at(offset + 4));
  }
}

function readFormat(
  bytes: Uint8Array,
  fail: (what: string) => Error,
): WavFormat {
  const size = bytes.length;
  if (size < 16) throw fail(`its format chunk has ${size} bytes, not 16`);
  const view = new DataView(bytes.buffer, bytes.byteOffset, size);
  const tag = view.getUint16(0, true);
  const channelCount = view.getUint16(2, true);
  const samplingRate = view.getUint32(4, true);
  const bits = view.getUint16(14, true);
  const extensible = tag === 0xfffe && size >= 26;
  const kind = extensible ? view.getUint16(24, true) : tag;
  const validBits = extensible ? view.getUint16(18, true) || bits : bits;
  const type = kind === 1
    ? pcm.get(bits)
    : kind === 3
    ? (bits === 32 ? "float32" : bits === 64 ? "float64" : undefined)
    : undefined;
  if (type === undefined) {
    throw fail(
      `format ${kind} with ${bits} bits is not supported: PCM of 8, 16, 24, 32 bits and float of 32, 64 bits are`,
    );
  }
  if (channelCount === 0) throw fail("it claims 0 channels");
  if (samplingRate === 0) throw fail("it claims a sampling rate of 0 Hz");
  const blockAlign = channelCount * bits / 8;
  const claimed = view.getUint16(12, true);
  if (claimed !== blockAlign) {
    throw fail(
      `its format chunk contradicts itself: ${claimed} bytes per sample frame, but ${channelCount} channels of ${bits} bits take ${blockAlign}`,
    );
  }
  return {
    type,
    channelCount,
    samplingRate,
    bits,
    validBits,
    blockAlign,
    claimedByteRate: view.getUint32(8, true),
  };
}

const pcm = new Map<number, SampleType>([
  [8, "uint8"],
  [16, "int16"],
  [24, "int24"],
  [32, "int32"],
]);

/** Names of RIFF INFO entries. */
const infoNames = new Map<string, string>([
  ["INAM", "title"],
  ["IART", "author"],
  ["ICMT", "comment"],
  ["ICRD", "date"],
  ["ISFT", "software"],
]);

function readInfo(bytes: Uint8Array, metadata: Map<string, string>): void {
  if (bytes.length < 4 || ascii(bytes, 0, 4) !== "INFO") return;
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.byteLength);
  let at = 4;
  while (at + 8 <= bytes.length && metadata.size < 1000) {
    const id = ascii(bytes, at, 4);
    const length = Math.min(
      view.getUint32(at + 4, true),
      bytes.length - at - 8,
    );
    const text = new TextDecoder().decode(
      bytes.subarray(at + 8, at + 8 + length),
    );
    const end = text.indexOf("\0");
    metadata.set(infoNames.get(id) ?? id, end < 0 ? text : text.slice(0, end));
    at += 8 + length + (length & 1);
  }
}
