/**
 * Frames between a session and its owner: length of the whole, length of the
 * JSON part, JSON, then binary parts whose lengths the JSON names.
 */
export interface Frame {
  /** Plain data. */
  readonly message: Record<string, unknown>;
  /** Binary parts, in the order of `message.parts`. */
  readonly buffers: readonly Uint8Array[];
}

const encoder = new TextEncoder();
const decoder = new TextDecoder();

/** Frames longer than this are refused, in bytes. */
export const longestFrame = 1 << 30;

/** Makes the bytes of a frame, in pieces to be written one after another. */
export function encodeFrame(
  message: Record<string, unknown>,
  buffers: readonly Uint8Array[] = [],
): Uint8Array[] {
  const parts = buffers.map(({ length }) => length);
  const json = encoder.encode(
    JSON.stringify(parts.length > 0 ? { ...message, parts } : message),
  );
  const total = parts.reduce((sum, length) => sum + length, 4 + json.length);
  const head = new Uint8Array(8);
  const view = new DataView(head.buffer);
  view.setUint32(0, total);
  view.setUint32(4, json.length);
  if (json.length > 65536 || buffers.length > 0) {
    return [head, json, ...buffers];
  }
  const whole = new Uint8Array(8 + json.length);
  whole.set(head);
  whole.set(json, 8);
  return [whole];
}

/** Cuts a stream of bytes into frames. */
export class FrameReader {
  #chunks: Uint8Array[] = [];
  #size = 0;

  /**
   * Takes bytes as they come.
   *
   * @returns The frames that are complete now.
   * @throws {RangeError} If the bytes cannot be frames.
   */
  push(bytes: Uint8Array): Frame[] {
    this.#chunks.push(bytes);
    this.#size += bytes.length;
    const frames: Frame[] = [];
    for (;;) {
      const total = this.#peekLength();
      if (total === null || this.#size < total + 4) return frames;
      frames.push(decodeFrame(this.#take(total + 4)));
    }
  }

  #peekLength(): number | null {
    if (this.#size < 8) return null;
    if (this.#chunks[0]!.length < 8) this.#chunks = [this.#join()];
    const [first] = this.#chunks;
    const total = new DataView(first!.buffer, first!.byteOffset).getUint32(0);
    if (total < 4 || total > longestFrame) {
      throw new RangeError(`Cannot read a frame of ${total} bytes`);
    }
    return total;
  }

  #take(length: number): Uint8Array {
    const all = this.#chunks.length === 1 ? this.#chunks[0]! : this.#join();
    this.#chunks = all.length > length ? [all.subarray(length)] : [];
    this.#size -= length;
    return all.subarray(0, length);
  }

  #join(): Uint8Array {
    const all = new Uint8Array(this.#size);
    let at = 0;
    for (const chunk of this.#chunks) {
      all.set(chunk, at);
      at += chunk.length;
    }
    return all;
  }
}

function decodeFrame(bytes: Uint8Array): Frame {
  const view = new DataView(bytes.buffer, bytes.byteOffset, bytes.length);
  const length = view.getUint32(4);
  const message = JSON.parse(decoder.decode(bytes.subarray(8, 8 + length)));
  const buffers: Uint8Array[] = [];
  let at = 8 + length;
  for (const part of message.parts ?? []) {
    buffers.push(bytes.slice(at, at + part));
    at += part;
  }
  return { message, buffers };
}
