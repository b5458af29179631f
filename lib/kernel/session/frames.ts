/**
 * Frames between a session and its owner: a mark, length of the rest, length of
 * the JSON part, JSON, then binary parts whose lengths the JSON names. What
 * stands between frames is text that something wrote past the session, such as
 * a package that writes to file 1.
 *
 * @module
 */

/** One message, or stray bytes between messages. */
export interface Frame {
  /**
   * Plain data; `{ type: "text", text }` for a frame of text alone,
   * `{ type: "stray" }` for stray bytes, then in `buffers`.
   */
  readonly message: Record<string, unknown>;
  /** Binary parts, in the order of `message.parts`. */
  readonly buffers: readonly Uint8Array[];
}

const encoder = new TextEncoder();
const decoder = new TextDecoder();

/** No text in UTF-8 holds these bytes. */
const mark = new Uint8Array([0xff, 0x46, 0xfe, 0x42, 0xff, 0x00, 0xfe, 0x01]);
const headLength = mark.length + 8;

/** Frames longer than this are refused, in bytes. */
export const longestFrame: number = 1 << 30;

/** In place of the length of the JSON part: all of the frame is text. */
const isText = 0xffffffff;
/** Characters of text in one frame. */
const longestText = 1 << 16;

/** Makes frames that hold text and nothing else, in memory that is used again. */
export class TextFrames {
  readonly #bytes = new Uint8Array(headLength + 3 * longestText);

  constructor() {
    this.#bytes.set(mark);
    new DataView(this.#bytes.buffer).setUint32(mark.length + 4, isText);
  }

  /** The frames of a text; each is to be written before the next is asked for. */
  *encode(text: string): Generator<Uint8Array> {
    const view = new DataView(this.#bytes.buffer);
    for (let at = 0; at < text.length;) {
      let end = Math.min(text.length, at + longestText);
      // Two code units of one character stay together.
      if (end < text.length && isHighSurrogate(text.charCodeAt(end - 1))) end--;
      const { written } = encoder.encodeInto(
        text.slice(at, end),
        this.#bytes.subarray(headLength),
      );
      view.setUint32(mark.length, written);
      at = end;
      yield this.#bytes.subarray(0, headLength + written);
    }
  }
}

function isHighSurrogate(unit: number): boolean {
  return unit >= 0xd800 && unit <= 0xdbff;
}

/** Makes the bytes of a frame, in pieces to be written one after another. */
export function encodeFrame(
  message: Record<string, unknown>,
  buffers: readonly Uint8Array[] = [],
): Uint8Array[] {
  const parts = buffers.map(({ length }) => length);
  const json = encoder.encode(
    JSON.stringify(parts.length > 0 ? { ...message, parts } : message),
  );
  const total = parts.reduce((sum, length) => sum + length, json.length);
  const small = json.length <= 65536 && parts.length === 0;
  const head = new Uint8Array(headLength + (small ? json.length : 0));
  head.set(mark);
  const view = new DataView(head.buffer);
  view.setUint32(mark.length, total);
  view.setUint32(mark.length + 4, json.length);
  if (!small) return [head, json, ...buffers];
  head.set(json, headLength);
  return [head];
}

/** Cuts a stream of bytes into frames. */
export class FrameReader {
  #chunks: Uint8Array[] = [];
  #size = 0;
  /** Bytes that must be there before it is worth looking again. */
  #wanted = 1;

  /**
   * Takes bytes as they come.
   *
   * @returns The frames that are complete now.
   * @throws {RangeError} If a frame is longer than any may be.
   */
  push(bytes: Uint8Array): Frame[] {
    this.#chunks.push(bytes);
    this.#size += bytes.length;
    const frames: Frame[] = [];
    while (this.#size >= this.#wanted) {
      const all = this.#join();
      const stray = strayLength(all);
      if (stray > 0) {
        frames.push({
          message: { type: "stray" },
          buffers: [this.#take(all, stray)],
        });
        continue;
      }
      const length = frameLength(all);
      if (length === null || all.length < length) {
        this.#wanted = length ?? all.length + 1;
        return frames;
      }
      frames.push(decodeFrame(this.#take(all, length)));
    }
    return frames;
  }

  #take(all: Uint8Array, length: number): Uint8Array {
    this.#chunks = all.length > length ? [all.subarray(length)] : [];
    this.#size = all.length - length;
    this.#wanted = 1;
    return all.subarray(0, length);
  }

  #join(): Uint8Array {
    if (this.#chunks.length === 1) return this.#chunks[0]!;
    const all = new Uint8Array(this.#size);
    let at = 0;
    for (const chunk of this.#chunks) {
      all.set(chunk, at);
      at += chunk.length;
    }
    this.#chunks = [all];
    return all;
  }
}

/** Number of bytes before the next mark, or before what may become one. */
function strayLength(bytes: Uint8Array): number {
  for (let at = 0; at < bytes.length; at++) {
    at = bytes.indexOf(mark[0]!, at);
    if (at < 0) return bytes.length;
    const rest = bytes.subarray(at, at + mark.length);
    if (rest.every((byte, index) => byte === mark[index])) return at;
  }
  return bytes.length;
}

/** Length of the frame that begins here; `null` while its head is not whole. */
function frameLength(bytes: Uint8Array): number | null {
  if (bytes.length < headLength) return null;
  const view = new DataView(bytes.buffer, bytes.byteOffset);
  const total = view.getUint32(mark.length);
  const json = view.getUint32(mark.length + 4);
  if (total > longestFrame || (json > total && json !== isText)) {
    throw new RangeError(`Cannot read a frame of ${total} bytes`);
  }
  return headLength + total;
}

function decodeFrame(bytes: Uint8Array): Frame {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const length = view.getUint32(mark.length + 4);
  if (length === isText) {
    const text = decoder.decode(bytes.subarray(headLength));
    return { message: { type: "text", text }, buffers: [] };
  }
  let at = headLength + length;
  const message = JSON.parse(decoder.decode(bytes.subarray(headLength, at)));
  const buffers: Uint8Array[] = [];
  for (const part of message.parts ?? []) {
    buffers.push(bytes.slice(at, at + part));
    at += part;
  }
  return { message, buffers };
}
