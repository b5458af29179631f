import {
  encodeCommand,
  encodeMultipart,
  type Frame,
  FrameDecoder,
  ZmtpError,
} from "./frame.ts";
import {
  checkGreeting,
  encodeGreeting,
  encodeReady,
  GREETING_LENGTH,
  readReady,
  type SocketType,
  splitCommand,
} from "./handshake.ts";
import { Outbox } from "./outbox.ts";
import { MESSAGE_LIMIT, STRANGER_LIMIT, Strangers } from "./strangers.ts";

/** Time for the greeting and READY, in ms. */
const HANDSHAKE_TIME = 10_000;
/** Frames of one message at most. */
const PARTS_LIMIT = 10_000;

/** A two-way stream of bytes, such as a TCP or Unix connection. */
export interface ByteStream {
  read(buffer: Uint8Array): Promise<number | null>;
  write(bytes: Uint8Array): Promise<number>;
  close(): void;
}

/** What a socket does with what a peer sends. */
export interface PeerListener {
  /** The handshake is done. */
  opened(peer: Peer): void;
  /** A whole message came. */
  message(peer: Peer, frames: Uint8Array[]): void;
  /** A command other than PING came. */
  command?(peer: Peer, name: string, data: Uint8Array): void;
  /** The peer is gone; the error says why, where it is not a plain goodbye. */
  closed(peer: Peer, error: Error | null): void;
}

/** One connection that speaks ZMTP 3 with the NULL mechanism. */
export class Peer {
  readonly #stream: ByteStream;
  readonly #type: SocketType;
  readonly #listener: PeerListener;
  readonly #outbox: Outbox;
  readonly #decoder: FrameDecoder;
  #parts: Uint8Array[] = [];
  #opened = false;
  #closed = false;
  #identity: Uint8Array | null = null;
  readonly #strangers: Strangers;
  #trusted = false;
  /** Bytes that came since the last whole message. */
  #waiting = 0;

  /**
   * @param stream The connection.
   * @param type Kind of our socket.
   * @param listener Takes what comes.
   * @param strangers Counts what peers without a key keep waiting.
   */
  constructor(
    stream: ByteStream,
    type: SocketType,
    listener: PeerListener,
    strangers: Strangers = new Strangers(),
  ) {
    this.#strangers = strangers;
    this.#stream = stream;
    this.#type = type;
    this.#listener = listener;
    this.#outbox = new Outbox(stream, (error) => this.close(error));
    this.#decoder = new FrameDecoder(
      (frame) => this.#take(frame),
      MESSAGE_LIMIT,
    );
  }

  /** Name the peer gave itself; `null` for none. */
  get identity(): Uint8Array | null {
    return this.#identity;
  }

  /** The peer has signed a message: it may send long ones. */
  trust(): void {
    if (this.#trusted) return;
    this.#strangers.give(this.#waiting);
    this.#trusted = true;
  }

  /** Bytes that have not left. */
  get pendingBytes(): number {
    return this.#outbox.pendingBytes;
  }

  /** Resolves when at most that many bytes have not left. */
  below(bytes: number): Promise<void> {
    return this.#outbox.below(bytes);
  }

  /** Sends a message. */
  send(frames: readonly Uint8Array[]): void {
    this.#outbox.add(encodeMultipart(frames));
  }

  /** Sends a message that is encoded already. */
  sendBlocks(blocks: readonly Uint8Array[]): void {
    this.#outbox.add(blocks);
  }

  /**
   * Shakes hands and takes what comes until the connection ends; never rejects.
   *
   * @param identity Name to give ourselves, as a client does.
   */
  async run(identity: Uint8Array | null = null): Promise<void> {
    const timer = setTimeout(() => {
      if (!this.#opened) {
        this.close(new ZmtpError("Cannot wait longer for the peer's READY"));
      }
    }, HANDSHAKE_TIME);
    try {
      this.#outbox.add([encodeGreeting(), encodeReady(this.#type, identity)]);
      await this.#read();
      this.close(null);
    } catch (error) {
      this.close(error as Error);
    } finally {
      clearTimeout(timer);
    }
  }

  /** Ends the connection. */
  close(error: Error | null = null): void {
    if (this.#closed) return;
    this.#closed = true;
    this.#outbox.close();
    this.#parts = [];
    this.#settle();
    try {
      this.#stream.close();
    } catch {
      // closed by the peer already
    }
    this.#listener.closed(this, error);
  }

  async #read(): Promise<void> {
    const buffer = new Uint8Array(65_536);
    const greeting = new Uint8Array(GREETING_LENGTH);
    let greeted = 0;
    while (!this.#closed) {
      const count = await this.#stream.read(buffer);
      if (count === null) return;
      let bytes = buffer.subarray(0, count);
      if (greeted < GREETING_LENGTH) {
        const part = bytes.subarray(0, GREETING_LENGTH - greeted);
        greeting.set(part, greeted);
        greeted += part.length;
        bytes = bytes.subarray(part.length);
        if (greeted < GREETING_LENGTH) continue;
        checkGreeting(greeting);
      }
      this.#count(bytes.length);
      this.#decoder.push(bytes);
    }
  }

  /** Counts what came of a message before it is kept. */
  #count(bytes: number): void {
    this.#waiting += bytes;
    if (!this.#trusted) this.#strangers.take(bytes);
    const limit = this.#trusted ? MESSAGE_LIMIT : STRANGER_LIMIT;
    if (this.#waiting <= limit) return;
    throw new ZmtpError(
      this.#trusted
        ? `Cannot read a message of more than ${limit} bytes`
        : `Cannot read a message of more than ${limit} bytes of a client that has not shown the key`,
    );
  }

  /** A message is whole, or gone. */
  #settle(): void {
    if (!this.#trusted) this.#strangers.give(this.#waiting);
    this.#waiting = 0;
  }

  #take(frame: Frame): void {
    if (this.#closed) return;
    if (!this.#opened) {
      this.#identity = readReady(frame, this.#type).identity;
      this.#opened = true;
      this.#settle();
      this.#listener.opened(this);
    } else if (frame.isCommand) {
      if (this.#parts.length === 0) this.#settle();
      this.#command(frame.body);
    } else {
      this.#parts.push(frame.body);
      if (this.#parts.length > PARTS_LIMIT) {
        throw new ZmtpError(
          `Cannot read a message of more than ${PARTS_LIMIT} frames`,
        );
      }
      if (frame.hasMore) return;
      const parts = this.#parts;
      this.#parts = [];
      this.#settle();
      this.#listener.message(this, parts);
    }
  }

  #command(body: Uint8Array): void {
    const { name, data } = splitCommand(body);
    // PING: time to live (2 bytes), then a context that PONG returns
    if (name === "PING") {
      this.#outbox.add([encodeCommand("PONG", data.slice(2, 18))]);
    } else this.#listener.command?.(this, name, data);
  }
}
