/**
 * The seam between the protocol core and whatever runs code. The core (busy and
 * idle, parents, order, signing, history, abort) knows no language; an
 * interpreter knows no messages on the wire.
 *
 * @module
 */

/** Data by MIME type. */
export type MimeBundle = Record<string, unknown>;

/** One output of a running cell, in the order produced. */
export type Output =
  | { type: "stream"; name: "stdout" | "stderr"; text: string }
  | {
    type: "display_data" | "update_display_data";
    data: MimeBundle;
    metadata: Record<string, unknown>;
    /** `transient.display_id`; `null` where the display has none. */
    displayId: string | null;
  }
  | { type: "clear_output"; wait: boolean }
  | {
    /** Long text for the pager; travels in the reply, so only before the cell ends. */
    type: "page";
    data: MimeBundle;
  }
  | {
    type: "comm_open" | "comm_msg" | "comm_close";
    commId: string;
    targetName: string | null;
    data: unknown;
    metadata: Record<string, unknown>;
    buffers: Uint8Array[];
  };

/** What an interpreter may do while it serves one request. */
export interface RequestContext {
  /** Unique for the request; outputs keep it even after the request ended. */
  readonly requestId: string;
  /** Publishes an output with this request as its parent, also after idle. */
  publish(output: Output): void;
  /**
   * Asks the person for a line. Rejects with an error whose `name` is
   * `InputNotAllowedError` (the client takes no input, or the cell has ended),
   * `KeyboardInterrupt` (interrupted while waiting) or `EndOfInputError`.
   */
  requestInput(prompt: string, password: boolean): Promise<string>;
  /**
   * Resolves when the outputs published so far have nearly left, or have waited
   * long enough. An interpreter that awaits it before it reads more output of
   * the session keeps memory bounded; at most times it resolves at once.
   */
  ready(): Promise<void>;
}

/** A cell to run. */
export interface ExecuteRequest {
  /** Code of the cell. */
  readonly code: string;
  /** The number shown beside the cell. */
  readonly executionCount: number;
  /** Id of the notebook cell where the client says it, for error locations. */
  readonly cellId: string | null;
  /** Whether outputs are dropped. */
  readonly silent: boolean;
  /** Name → expression, evaluated after success without side output. */
  readonly userExpressions: Readonly<Record<string, string>>;
}

/** An error as the protocol carries it; plain text without colour codes. */
export interface ExecuteError {
  /** Name of the error. */
  readonly ename: string;
  /** Its message. */
  readonly evalue: string;
  /** Short; the person's own line first. */
  readonly traceback: readonly string[];
}

/** One evaluated user expression. */
export type UserExpression =
  | { status: "ok"; data: MimeBundle; metadata: Record<string, unknown> }
  | ({ status: "error" } & ExecuteError);

/** How a cell ended. */
export type ExecuteOutcome =
  | {
    status: "ok";
    /** The last value's bundle, `null` for `undefined`. */
    result: { data: MimeBundle; metadata: Record<string, unknown> } | null;
    userExpressions: Record<string, UserExpression>;
  }
  | ({
    status: "error";
    /** Whether the variables of the session were lost (restarted). */
    sessionLost: boolean;
  } & ExecuteError);

/** Completions; cursors count Unicode code points. */
export interface Completion {
  /** What the code could go on with. */
  readonly matches: readonly string[];
  /** Where the replaced text begins, in code points. */
  readonly cursorStart: number;
  /** Where it ends, in code points. */
  readonly cursorEnd: number;
  /** Types and signatures of the matches. */
  readonly metadata: Record<string, unknown>;
}

/** What is known of the name under the cursor. */
export interface Inspection {
  /** Whether anything is known. */
  readonly found: boolean;
  /** What is known, by MIME type. */
  readonly data: MimeBundle;
  /** Metadata by MIME type. */
  readonly metadata: Record<string, unknown>;
}

/** Whether a piece of code can be run as it is. */
export interface Completeness {
  /** Whether the code can be run as it stands. */
  readonly status: "complete" | "incomplete" | "invalid" | "unknown";
  /** Indent of the next line; used where `incomplete`. */
  readonly indent: string;
}

/** A message of a comm from the frontend. */
export interface CommMessage {
  /** Opens, goes on or ends. */
  readonly type: "comm_open" | "comm_msg" | "comm_close";
  /** Id of the comm. */
  readonly commId: string;
  /** What the other side shall open; `null` once it is open. */
  readonly targetName: string | null;
  /** Plain data. */
  readonly data: unknown;
  /** Metadata, as sent. */
  readonly metadata: Record<string, unknown>;
  /** Binary buffers behind the data. */
  readonly buffers: Uint8Array[];
}

/** What kernel_info says of the language. */
export interface LanguageInfo {
  /** Name of the language. */
  readonly name: string;
  /** Its version. */
  readonly version: string;
  /** MIME type of its files. */
  readonly mimetype: string;
  /** Ending of its files, with the dot. */
  readonly file_extension: string;
  /** Further fields of the protocol. */
  readonly [key: string]: unknown;
}

/** What the kernel's main gives whoever makes an interpreter. */
export interface InterpreterOptions {
  /** Folder of the notebook: the kernel's working folder. */
  readonly folder: string;
  /** Path of the notebook where the launcher says it, else `null`. */
  readonly notebook: string | null;
  /**
   * Deno permission flags granted by the person at install time, such as
   * `"--allow-net=localhost:8000"`, on top of what every notebook has.
   */
  readonly grants: readonly string[];
  /** Limit of the session's heap, in bytes; `null` for the default. */
  readonly memoryLimit: number | null;
}

/** Runs code. One request at a time; control calls may come at any time. */
export interface Interpreter {
  /** The language of the cells. */
  readonly languageInfo: LanguageInfo;
  /** What a console shows when it starts. */
  readonly banner: string;
  /** Gets ready; resolves when the first cell can run. */
  start(): Promise<void>;
  /** Runs a cell. */
  execute(
    request: ExecuteRequest,
    context: RequestContext,
  ): Promise<ExecuteOutcome>;
  /** What the code at the cursor could go on with. */
  complete(code: string, cursor: number): Promise<Completion>;
  /** What is known of the name at the cursor. */
  inspect(code: string, cursor: number, detail: 0 | 1): Promise<Inspection>;
  /** Whether a console should run the code or wait for more. */
  isComplete(code: string): Promise<Completeness>;
  /** Handles a comm message; false where nobody knows the target or the id. */
  comm(message: CommMessage, context: RequestContext): Promise<boolean>;
  /** Open comms: id → target name. */
  comms(): ReadonlyMap<string, string>;
  /** Stops the running cell; resolves at once, before the cell has ended. */
  interrupt(): Promise<void>;
  /** Ends for good; kills what it started. */
  close(): Promise<void>;
}
