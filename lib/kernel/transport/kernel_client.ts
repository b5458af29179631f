import {
  decodeMessage,
  encodeMessage,
  HeaderFactory,
  type IncomingMessage,
  type JsonObject,
  type RoutedChannel,
  Signer,
} from "../protocol/mod.ts";
import type { ClientChannel, ClientConnection } from "./client_connection.ts";

/** What came back for one request. */
export interface Exchange {
  /** The reply; `null` for messages that have none. */
  readonly reply: IncomingMessage | null;
  /** What was published with the request as parent, status included. */
  readonly published: readonly IncomingMessage[];
}

/** Fields of an execute_request that differ from the defaults. */
export interface ExecuteOptions {
  /** Neither shown nor counted. */
  silent?: boolean;
  /** Whether the cell goes into the history. */
  store_history?: boolean;
  /** Whether an error drops the cells that wait. */
  stop_on_error?: boolean;
  /** Expressions whose values come with the reply, by name. */
  user_expressions?: Record<string, string>;
  /** Whether the cell may ask for input. */
  allow_stdin?: boolean;
}

interface Pending {
  readonly expectsReply: boolean;
  reply: IncomingMessage | null;
  idle: boolean;
  readonly published: IncomingMessage[];
  readonly resolve: (exchange: Exchange) => void;
}

/** Answers a question of a cell. */
export type InputHandler = (prompt: string, password: boolean) => string;

/** A client of a kernel: sends requests and gathers what comes back. */
export class KernelClient {
  readonly #connection: ClientConnection;
  readonly #signer: Signer;
  readonly #headers = new HeaderFactory("client");
  readonly #pending = new Map<string, Pending>();

  /** Sees every message, in the order in which it came. */
  onMessage: (message: IncomingMessage, channel: ClientChannel) => void =
    () => {};
  /** Answers input_request; `null` leaves questions open. */
  onInput: InputHandler | null = null;

  /**
   * A client on an open connection.
   *
   * @param connection The client's end of a transport.
   * @param options The key of the connection file, `""` for no signing.
   */
  constructor(connection: ClientConnection, options: { key: string }) {
    this.#connection = connection;
    this.#signer = new Signer(options.key);
    connection.listen((channel, frames) => this.#take(channel, frames));
  }

  /** Id of this client's session in all headers. */
  get session(): string {
    return this.#headers.session;
  }

  /**
   * Sends a request and waits for its reply and for idle.
   *
   * @param type Type of the message; one ending in `_request` gets a reply.
   */
  request(
    type: string,
    content: JsonObject = {},
    options: {
      channel?: RoutedChannel;
      metadata?: JsonObject;
      buffers?: readonly Uint8Array[];
      expectsReply?: boolean;
    } = {},
  ): Promise<Exchange> {
    const {
      channel = "shell",
      metadata = {},
      buffers = [],
      expectsReply = type.endsWith("_request"),
    } = options;
    const header = this.#headers.create(type);
    const { promise, resolve } = Promise.withResolvers<Exchange>();
    this.#pending.set(header.msg_id, {
      expectsReply,
      reply: null,
      idle: false,
      published: [],
      resolve,
    });
    this.#connection.send(
      channel,
      encodeMessage(
        { header, parentHeader: null, metadata, content, buffers },
        this.#signer,
      ),
    );
    return promise;
  }

  /** Runs a cell. */
  execute(code: string, options: ExecuteOptions = {}): Promise<Exchange> {
    return this.request("execute_request", {
      code,
      silent: false,
      store_history: true,
      user_expressions: {},
      allow_stdin: this.onInput !== null,
      stop_on_error: true,
      ...options,
    });
  }

  /** Disconnects. */
  close(): Promise<void> {
    return this.#connection.close();
  }

  #take(channel: ClientChannel, frames: readonly Uint8Array[]): void {
    const message = decodeMessage(frames, this.#signer);
    this.onMessage(message, channel);
    const type = message.header.msg_type;
    if (channel === "stdin") {
      if (type === "input_request") this.#answer(message);
      return;
    }
    const parent = message.parentHeader["msg_id"];
    const pending = this.#pending.get(String(parent));
    if (pending === undefined) return;
    if (channel === "iopub") {
      pending.published.push(message);
      pending.idle ||= type === "status" &&
        message.content["execution_state"] === "idle";
    } else pending.reply = message;
    if (pending.idle && (pending.reply !== null || !pending.expectsReply)) {
      this.#pending.delete(String(parent));
      const { reply, published } = pending;
      pending.resolve({ reply, published });
    }
  }

  #answer(message: IncomingMessage): void {
    if (this.onInput === null) return;
    const { prompt, password } = message.content;
    this.#connection.send(
      "stdin",
      encodeMessage({
        header: this.#headers.create("input_reply"),
        parentHeader: message.headerBytes,
        metadata: {},
        content: { value: this.onInput(String(prompt), password === true) },
        buffers: [],
      }, this.#signer),
    );
  }
}
