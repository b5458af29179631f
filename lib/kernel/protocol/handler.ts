import type { HistoryStore } from "./history.ts";
import type { InputDesk } from "./input_desk.ts";
import type { Interpreter, RequestContext } from "./interpreter.ts";
import type { Log } from "./log.ts";
import type { JsonObject } from "./message.ts";
import type { Publisher } from "./publisher.ts";
import type { Request } from "./request.ts";

/** What a client is told of the kernel, and the rules it follows. */
export interface KernelOptions {
  /** Key of the connection file; `""` for no signing. */
  readonly key: string;
  /**
   * How messages are signed.
   *
   * @default {"hmac-sha256"}
   */
  readonly signatureScheme?: string;
  /**
   * Where what was run is kept.
   *
   * @default {new MemoryHistory()}
   */
  readonly history?: HistoryStore;
  /**
   * Ports by channel, for `connect_request`.
   *
   * @default {{}}
   */
  readonly ports?: Readonly<Record<string, number>>;
  /**
   * Time after an error in which cells sent together with it still arrive and
   * are aborted, in ms.
   *
   * @default {20}
   */
  readonly settleTime?: number;
  /**
   * Takes lines for the person who runs the server.
   *
   * @default {logToStderr}
   */
  readonly log?: Log;
}

/** What handlers share: the parts of the kernel and its few variables. */
export interface KernelState {
  readonly interpreter: Interpreter;
  readonly publisher: Publisher;
  readonly input: InputDesk;
  readonly history: HistoryStore;
  readonly ports: Readonly<Record<string, number>>;
  readonly settleTime: number;
  readonly log: Log;
  /** Settles when the interpreter is ready, rejects where it cannot be. */
  readonly started: Promise<void>;
  /** Cells that were stored, and the number of the last of them. */
  executionCount: number;
  /** Messages that came on shell. */
  shellArrivals: number;
  /** Cells that came up to this place are aborted. */
  abortThrough: number;
  /** The request that the interpreter works on, where it can be stopped. */
  running: Request | null;
  /** Makes what an interpreter may do for a request. */
  context(request: Request, pages?: JsonObject[]): RequestContext;
  /** Stops what runs; resolves at once. */
  interrupt(): Promise<void>;
}

/** What a handler answers. */
export interface Reply {
  readonly content: JsonObject;
  /** Done after the reply has left and before idle. */
  readonly after?: () => Promise<void>;
}

/** Serves one type of message; `null` for no reply. */
export type Handler = (
  request: Request,
  kernel: KernelState,
) => Promise<Reply | null> | Reply | null;
