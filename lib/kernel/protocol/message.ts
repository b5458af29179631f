/** Version of the Jupyter messaging protocol that the kernel speaks. */
export const PROTOCOL_VERSION = "5.4";

/** Header of a message; fields unknown to us are kept. */
export interface Header {
  /** Unique id of the message. */
  readonly msg_id: string;
  /** Id of the session. */
  readonly session: string;
  /** Who sent it. */
  readonly username: string;
  /** ISO 8601, UTC. */
  readonly date: string;
  /** Type, such as `"execute_request"`. */
  readonly msg_type: string;
  /** Version of the protocol. */
  readonly version: string;
  /** Further fields, which are passed on. */
  readonly [field: string]: unknown;
}

/** An object of JSON, as parsed. */
export type JsonObject = Record<string, unknown>;

/** A message to send. */
export interface OutgoingMessage {
  /** Header of the message. */
  readonly header: Header;
  /**
   * Header of the request that caused it: the bytes as received, so that it
   * returns unchanged; `null` for none.
   */
  readonly parentHeader: Uint8Array | null;
  /** Metadata, as sent. */
  readonly metadata: JsonObject;
  /** Content, by the type of the message. */
  readonly content: JsonObject;
  /** Binary buffers behind the JSON parts. */
  readonly buffers: readonly Uint8Array[];
}

/** A message as received, its signature verified. */
export interface IncomingMessage {
  /** Frames before the delimiter: the way back to the sender. */
  readonly identities: readonly Uint8Array[];
  /** Header of the message. */
  readonly header: Header;
  /** The header's bytes as received. */
  readonly headerBytes: Uint8Array;
  /** Header of the message that it answers. */
  readonly parentHeader: JsonObject;
  /** Metadata to send. */
  readonly metadata: JsonObject;
  /** Content, by the type of the message. */
  readonly content: JsonObject;
  /** Binary buffers behind the JSON parts. */
  readonly buffers: readonly Uint8Array[];
}

/** Makes the headers of one session: one kernel process or one client. */
export class HeaderFactory {
  readonly #prefix: string;
  readonly #username: string;
  #count = 0;

  /** Id of the session; new for every process. */
  readonly session: string;

  /**
   * Headers of one session.
   *
   * @param username Name in the headers.
   * @param session Id of the session; random where not given.
   */
  constructor(username: string, session: string = crypto.randomUUID()) {
    this.session = session;
    this.#username = username;
    this.#prefix = `${session}_${Deno.pid}_`;
  }

  /** Makes the header of a new message of the given type. */
  create(type: string): Header {
    return {
      msg_id: this.#prefix + this.#count++,
      session: this.session,
      username: this.#username,
      date: new Date().toISOString(),
      msg_type: type,
      version: PROTOCOL_VERSION,
    };
  }
}
