import type { Capture } from "../capture.ts";
import { formatDescription } from "../description.ts";
import { interleavedParts, putFloat64 } from "./interleave.ts";

/** How samples are stored in a WAV file. */
export type WavSampleFormat =
  | "float64"
  | "float32"
  | "int16"
  | "int24"
  | "int32";

const bitsOf: Readonly<Record<WavSampleFormat, number>> = {
  float64: 64,
  float32: 32,
  int16: 16,
  int24: 24,
  int32: 32,
};

/** Largest size a RIFF field holds. */
const riffLimit = 0xffffffff;

/**
 * A WAV file. Floats keep the values in their unit, with the description in the
 * comment; whole numbers hold value / scale of each channel and must be exact.
 * Over 4 GiB, or on request, the file is RF64 (EBU Tech 3306).
 */
export function* wavParts(
  capture: Capture,
  sampleFormat: WavSampleFormat,
  rf64: boolean,
): Generator<Uint8Array<ArrayBuffer>> {
  const { channels, sampleCount, samplingRate } = capture;
  const bits = bitsOf[sampleFormat];
  const size = bits / 8;
  if (channels.length * size > 0xffff) {
    throw new RangeError(
      `Cannot write WAV as ${channels.length} channels are more than it holds`,
    );
  }
  const rate = Math.round(samplingRate);
  if (rate < 1 || rate > riffLimit) {
    throw new RangeError(
      `Cannot write WAV as its sampling rate must lie between 1 Hz and 4.29 GHz: current value is ${samplingRate} Hz. Write SigMF or NPZ`,
    );
  }
  const isFloat = sampleFormat.startsWith("float");
  const put = isFloat
    ? (sampleFormat === "float64" ? putFloat64 : putExactFloat32)
    : putInteger(capture, sampleFormat);
  const comment = isFloat ? infoChunk(formatDescription(capture)) : null;
  const dataSize = sampleCount * channels.length * size;
  yield wavHeader(
    channels.length,
    rate,
    bits,
    isFloat,
    dataSize,
    comment,
    rf64,
  );
  yield* interleavedParts(channels, size, put);
  if (dataSize % 2 === 1) yield new Uint8Array(1);
}

function putExactFloat32(view: DataView, at: number, value: number): void {
  if (Math.fround(value) !== value && value === value) {
    throw new RangeError(
      `Cannot write WAV as float32 as ${value} would be rounded: use 'float64'`,
    );
  }
  view.setFloat32(at, value, true);
}

function putInteger(
  { channels }: Capture,
  format: WavSampleFormat,
): (view: DataView, at: number, value: number, channel: number) => void {
  const half = 2 ** (bitsOf[format] - 1);
  // The reader gives whole numbers / half, times the channel's scale.
  const factors = channels.map(({ scale }) =>
    Math.abs(scale * half - 1) < 1e-9 ? half : 1 / scale
  );
  return (view, at, value, channel) => {
    const number = value * factors[channel]!;
    const whole = Math.round(number);
    if (
      !(Math.abs(number - whole) < 1e-6) || whole < -half || whole >= half
    ) {
      throw new RangeError(
        `Cannot write WAV as ${format} as ${value} of channel '${
          channels[channel]!.name
        }' is no whole number of its steps within the range: use 'float64'`,
      );
    }
    if (format === "int16") view.setInt16(at, whole, true);
    else if (format === "int32") view.setInt32(at, whole, true);
    else {
      view.setUint16(at, whole & 0xffff, true);
      view.setInt8(at + 2, whole >> 16);
    }
  };
}

/** The comment of a WAV file as the chunk that holds it. */
export function infoChunk(comment: string): Uint8Array {
  const text = new TextEncoder().encode(comment);
  const padded = text.length + 1 + ((text.length + 1) & 1);
  const bytes = new Uint8Array(20 + padded);
  const view = new DataView(bytes.buffer);
  putAscii(bytes, 0, "LIST");
  view.setUint32(4, 12 + padded, true);
  putAscii(bytes, 8, "INFO");
  putAscii(bytes, 12, "ICMT");
  view.setUint32(16, text.length + 1, true);
  bytes.set(text, 20);
  return bytes;
}

function putAscii(bytes: Uint8Array, at: number, text: string): void {
  for (let index = 0; index < text.length; index++) {
    bytes[at + index] = text.charCodeAt(index);
  }
}

/** Everything in front of the samples. */
export function wavHeader(
  channelCount: number,
  samplingRate: number,
  bits: number,
  isFloat: boolean,
  dataSize: number,
  comment: Uint8Array | null,
  rf64: boolean,
): Uint8Array<ArrayBuffer> {
  const commentSize = comment?.length ?? 0;
  const formatSize = isFloat ? 18 : 16;
  const factSize = isFloat ? 12 : 0;
  const plain = 12 + 8 + formatSize + factSize + commentSize + 8;
  const padded = dataSize + (dataSize % 2);
  const long = rf64 || plain + padded - 8 > riffLimit;
  const bytes = new Uint8Array(plain + (long ? 36 : 0));
  const view = new DataView(bytes.buffer);
  const frames = dataSize / (channelCount * bits / 8);
  const riffSize = bytes.length + padded - 8;
  putAscii(bytes, 0, long ? "RF64" : "RIFF");
  view.setUint32(4, long ? riffLimit : riffSize, true);
  putAscii(bytes, 8, "WAVE");
  let at = 12;
  if (long) {
    putAscii(bytes, at, "ds64");
    view.setUint32(at + 4, 28, true);
    view.setBigUint64(at + 8, BigInt(riffSize), true);
    view.setBigUint64(at + 16, BigInt(dataSize), true);
    view.setBigUint64(at + 24, BigInt(Math.floor(frames)), true);
    at += 36;
  }
  putAscii(bytes, at, "fmt ");
  view.setUint32(at + 4, formatSize, true);
  view.setUint16(at + 8, isFloat ? 3 : 1, true);
  view.setUint16(at + 10, channelCount, true);
  view.setUint32(at + 12, samplingRate, true);
  const frame = channelCount * bits / 8;
  view.setUint32(at + 16, Math.min(riffLimit, samplingRate * frame), true);
  view.setUint16(at + 20, frame, true);
  view.setUint16(at + 22, bits, true);
  at += 8 + formatSize;
  if (isFloat) {
    putAscii(bytes, at, "fact");
    view.setUint32(at + 4, 4, true);
    view.setUint32(at + 8, Math.min(riffLimit, frames), true);
    at += 12;
  }
  if (comment !== null) {
    bytes.set(comment, at);
    at += comment.length;
  }
  putAscii(bytes, at, "data");
  view.setUint32(at + 4, long ? riffLimit : dataSize, true);
  return bytes;
}
