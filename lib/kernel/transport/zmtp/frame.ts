import { concat } from "@std/bytes/concat";
/** A frame of ZMTP 3: a part of a message, or a command. */
export interface Frame {
  readonly isCommand: boolean;
  /** Whether further parts of the message follow. */
  readonly hasMore: boolean;
  readonly body: Uint8Array;
}

/** The peer broke the rules of ZMTP; the connection ends. */
export class ZmtpError extends Error {
  override readonly name = "ZmtpError";
}

const MORE = 0x01;
const LONG = 0x02;
const COMMAND = 0x04;
/** Bodies up to this many bytes are joined into one block with their header. */
const JOIN_LIMIT = 65_536;

function frameHeader(flags: number, length: number): Uint8Array {
  if (length <= 255) return Uint8Array.of(flags, length);
  const header = new Uint8Array(9);
  header[0] = flags | LONG;
  new DataView(header.buffer).setBigUint64(1, BigInt(length));
  return header;
}

/** Joins blocks into one. */
export function joinBlocks(blocks: readonly Uint8Array[]): Uint8Array {
  const only = blocks[0];
  if (blocks.length === 1 && only !== undefined) return only;
  return concat(blocks);
}

/**
 * @param frames Parts of one message.
 * @returns The bytes for the wire in as few blocks as is sensible; one block for
 * all but large messages.
 */
export function encodeMultipart(frames: readonly Uint8Array[]): Uint8Array[] {
  const blocks: Uint8Array[] = [];
  let small: Uint8Array[] = [];
  const settle = () => {
    if (small.length > 0) blocks.push(joinBlocks(small));
    small = [];
  };
  frames.forEach((body, index) => {
    small.push(frameHeader(index < frames.length - 1 ? MORE : 0, body.length));
    if (body.length > JOIN_LIMIT) {
      settle();
      blocks.push(body);
    } else if (body.length > 0) small.push(body);
  });
  settle();
  return blocks;
}

/**
 * @param name Name of the command, such as `"READY"`.
 * @param data What follows the name.
 * @returns The bytes for the wire.
 */
export function encodeCommand(name: string, data: Uint8Array): Uint8Array {
  const text = new TextEncoder().encode(name);
  const body = joinBlocks([Uint8Array.of(text.length), text, data]);
  return joinBlocks([frameHeader(COMMAND, body.length), body]);
}

/** Takes bytes as they come and gives frames as they are complete. */
export class FrameDecoder {
  readonly #take: (frame: Frame) => void;
  readonly #limit: number;
  #header: Uint8Array = new Uint8Array(9);
  #headerFilled = 0;
  #parts: Uint8Array[] = [];
  #missing = -1;

  /**
   * @param take Takes each frame.
   * @param limit Bytes in a frame at most.
   */
  constructor(take: (frame: Frame) => void, limit: number) {
    this.#take = take;
    this.#limit = limit;
  }

  /**
   * @param bytes What came; copied, so the buffer may be used again.
   * @throws {ZmtpError} If it is no frame, or one that is too long.
   */
  push(bytes: Uint8Array): void {
    let at = 0;
    while (at < bytes.length || this.#missing === 0) {
      if (this.#missing < 0) {
        this.#header[this.#headerFilled++] = bytes[at++]!;
        this.#readHeader();
        continue;
      }
      const part = bytes.slice(at, at + this.#missing);
      if (part.length > 0) this.#parts.push(part);
      at += part.length;
      this.#missing -= part.length;
      if (this.#missing === 0) this.#finish();
    }
  }

  #readHeader(): void {
    const flags = this.#header[0]!;
    if ((flags & ~(MORE | LONG | COMMAND)) !== 0) {
      throw new ZmtpError(`Cannot read a frame as its flags are ${flags}`);
    }
    const isLong = (flags & LONG) !== 0;
    if (this.#headerFilled < (isLong ? 9 : 2)) return;
    const length = isLong
      ? new DataView(this.#header.buffer).getBigUint64(1)
      : BigInt(this.#header[1]!);
    if (length > BigInt(this.#limit)) {
      throw new ZmtpError(
        `Cannot read a frame of ${length} bytes: at most ${this.#limit} are taken`,
      );
    }
    this.#missing = Number(length);
  }

  #finish(): void {
    const flags = this.#header[0]!;
    const body = joinBlocks(this.#parts);
    this.#headerFilled = 0;
    this.#parts = [];
    this.#missing = -1;
    this.#take({
      isCommand: (flags & COMMAND) !== 0,
      hasMore: (flags & MORE) !== 0,
      body,
    });
  }
}
