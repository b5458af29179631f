import { encodeMessage } from "./codec.ts";
import type { HeaderFactory, JsonObject } from "./message.ts";
import type { Request } from "./request.ts";
import type { Signer } from "./signature.ts";
import type { Transport } from "./transport.ts";

/** Text is sent after this many ms, or before anything else is. */
const STREAM_DELAY = 50;
/** Text is sent when there are this many characters of it. */
const STREAM_LIMIT = 65_536;

/** What is left out for a client that reads far too slowly. */
const DROPPABLE = new Set([
  "stream",
  "display_data",
  "update_display_data",
  "execute_result",
]);

interface PendingText {
  readonly parent: Request;
  readonly name: "stdout" | "stderr";
  text: string;
}

/**
 * The one way to IOPub: everything, `idle` too, leaves in the order in which it
 * was published. Text of one stream and one parent is joined for a short while.
 */
export class Publisher {
  readonly #transport: Transport;
  readonly #signer: Signer;
  readonly #headers: HeaderFactory;
  readonly #topics = new Map<string, Uint8Array>();
  #pending: PendingText | null = null;
  #timer: ReturnType<typeof setTimeout> | null = null;

  constructor(transport: Transport, signer: Signer, headers: HeaderFactory) {
    this.#transport = transport;
    this.#signer = signer;
    this.#headers = headers;
  }

  /** Publishes a message; `parent` is `null` for none. */
  publish(
    type: string,
    content: JsonObject,
    parent: Request | null,
    metadata: JsonObject = {},
    buffers: readonly Uint8Array[] = [],
  ): void {
    this.flushText();
    this.#transport.publish(
      this.frames(type, content, parent, metadata, buffers),
      DROPPABLE.has(type),
    );
  }

  /** Publishes text, joined with what came just before on the same stream. */
  publishText(name: "stdout" | "stderr", text: string, parent: Request): void {
    if (text === "") return;
    const pending = this.#pending;
    if (pending?.parent === parent && pending.name === name) {
      pending.text += text;
    } else {
      this.flushText();
      this.#pending = { parent, name, text };
    }
    if (this.#pending!.text.length >= STREAM_LIMIT) this.flushText();
    else this.#timer ??= setTimeout(() => this.flushText(), STREAM_DELAY);
  }

  /** Sends text that waits to be joined. */
  flushText(): void {
    if (this.#timer !== null) {
      clearTimeout(this.#timer);
      this.#timer = null;
    }
    if (this.#pending === null) return;
    const { parent, name, text } = this.#pending;
    this.#pending = null;
    this.publish("stream", { name, text }, parent);
  }

  /** The frames of a message for IOPub, its topic first. */
  frames(
    type: string,
    content: JsonObject,
    parent: Request | null,
    metadata: JsonObject = {},
    buffers: readonly Uint8Array[] = [],
  ): Uint8Array[] {
    return [
      this.#topic(type),
      ...encodeMessage({
        header: this.#headers.create(type),
        parentHeader: parent?.message.headerBytes ?? null,
        metadata,
        content,
        buffers,
      }, this.#signer),
    ];
  }

  #topic(type: string): Uint8Array {
    let topic = this.#topics.get(type);
    if (topic === undefined) {
      topic = new TextEncoder().encode(
        `kernel.${this.#headers.session}.${type}`,
      );
      this.#topics.set(type, topic);
    }
    return topic;
  }
}
