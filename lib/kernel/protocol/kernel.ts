import { decodeMessage, encodeMessage } from "./codec.ts";
import { flagField } from "./content.ts";
import type { Handler, KernelOptions, KernelState, Reply } from "./handler.ts";
import { CONTROL_HANDLERS, SHELL_HANDLERS } from "./handlers/mod.ts";
import { MemoryHistory } from "./history.ts";
import { InputDesk } from "./input_desk.ts";
import type { Interpreter } from "./interpreter.ts";
import { logToStderr } from "./log.ts";
import { HeaderFactory, type JsonObject } from "./message.ts";
import { Publisher } from "./publisher.ts";
import { ReplayGuard } from "./replay_guard.ts";
import type { Request } from "./request.ts";
import { createRequestContext } from "./request_context.ts";
import { SerialQueue } from "./serial_queue.ts";
import { Signer } from "./signature.ts";
import type { RoutedChannel, Transport } from "./transport.ts";

/** Time for the session to end and for the last messages to leave, in ms. */
const CLOSING_TIME = 2000;

/** Settles with the promise, or after the time, whichever is first. */
async function within(promise: Promise<unknown>, time: number): Promise<void> {
  let timer: ReturnType<typeof setTimeout> | undefined;
  const late = new Promise((resolve) => timer = setTimeout(resolve, time));
  try {
    await Promise.race([promise, late]);
  } finally {
    clearTimeout(timer);
  }
}

/**
 * The protocol core: it takes messages from a transport, has them served one at
 * a time by an interpreter, and sees to it that each ends in exactly one reply
 * and exactly one pair of busy and idle, after all of its outputs.
 *
 * @example A kernel whose cells give their own text back
 * ```ts
 * import {
 *   type Interpreter,
 *   Kernel,
 *   KernelClient,
 *   MemoryTransport,
 * } from "fringebook/kernel";
 * import { expect } from "vitest";
 *
 * const nothing = { data: {}, metadata: {} };
 * const echo: Interpreter = {
 *   languageInfo: {
 *     name: "echo",
 *     version: "1",
 *     mimetype: "text/plain",
 *     file_extension: ".txt",
 *   },
 *   banner: "An echo",
 *   start: () => Promise.resolve(),
 *   execute: ({ code }) =>
 *     Promise.resolve({
 *       status: "ok",
 *       result: { data: { "text/plain": code }, metadata: {} },
 *       userExpressions: {},
 *     }),
 *   complete: (_, at) =>
 *     Promise.resolve({ matches: [], cursorStart: at, cursorEnd: at, metadata: {} }),
 *   inspect: () => Promise.resolve({ found: false, ...nothing }),
 *   isComplete: () => Promise.resolve({ status: "complete", indent: "" }),
 *   comm: () => Promise.resolve(false),
 *   comms: () => new Map(),
 *   interrupt: () => Promise.resolve(),
 *   close: () => Promise.resolve(),
 * };
 *
 * const transport = new MemoryTransport();
 * const kernel = new Kernel(echo, transport, { key: "" });
 * await kernel.start();
 * const client = new KernelClient(transport.connect(), { key: "" });
 * const { reply, published } = await client.execute("Hello");
 * expect(reply?.content["execution_count"]).toBe(1);
 * expect(published.map(({ header }) => header.msg_type)).toEqual([
 *   "status",
 *   "execute_input",
 *   "execute_result",
 *   "status",
 * ]);
 * await kernel.close();
 * ```
 */
export class Kernel {
  readonly #transport: Transport;
  readonly #signer: Signer;
  readonly #guard = new ReplayGuard();
  readonly #headers = new HeaderFactory("kernel");
  readonly #state: KernelState;
  readonly #queues = { shell: new SerialQueue(), control: new SerialQueue() };
  readonly #begin = Promise.withResolvers<void>();
  readonly #end = Promise.withResolvers<void>();
  #controlArrivals = 0;

  /** Resolves when the kernel has ended and everything is closed. */
  readonly ended: Promise<void> = this.#end.promise;

  /**
   * A kernel; it answers as soon as its transport brings messages.
   *
   * @param interpreter Runs the code.
   * @param transport Carries the messages.
   * @param options Key, history, log.
   */
  constructor(
    interpreter: Interpreter,
    transport: Transport,
    options: KernelOptions,
  ) {
    const {
      key,
      signatureScheme = "hmac-sha256",
      history = new MemoryHistory(),
      ports = {},
      settleTime = 20,
      log = logToStderr,
    } = options;
    this.#transport = transport;
    this.#signer = new Signer(key, signatureScheme);
    const publisher = new Publisher(transport, this.#signer, this.#headers);
    const input = new InputDesk(transport, this.#signer, this.#headers);
    const state: KernelState = {
      interpreter,
      publisher,
      input,
      history,
      ports,
      settleTime,
      log,
      started: this.#begin.promise,
      executionCount: 0,
      shellArrivals: 0,
      abortThrough: 0,
      running: null,
      context: (request, pages = []) =>
        createRequestContext(request, state, transport, pages),
      interrupt: () => this.interrupt(),
    };
    this.#state = state;
    this.#begin.promise.catch(() => {});
  }

  /** Id of this kernel's session in all headers. */
  get session(): string {
    return this.#headers.session;
  }

  /**
   * Starts to serve; the interpreter gets ready meanwhile.
   *
   * @throws {Error} If the transport cannot be opened.
   */
  async start(): Promise<void> {
    const { publisher, interpreter } = this.#state;
    publisher.publish("status", { execution_state: "starting" }, null);
    await this.#transport.open({
      receive: (channel, frames) => this.#receive(channel, frames),
      subscribed: (topic, send) => {
        const content = { subscription: topic };
        const [, ...frames] = publisher.frames("iopub_welcome", content, null);
        send([new TextEncoder().encode(topic), ...frames]);
      },
    });
    interpreter.start().then(this.#begin.resolve, this.#begin.reject);
  }

  /** Stops the running cell, if any; resolves at once. */
  async interrupt(): Promise<void> {
    const { running, input, interpreter, log } = this.#state;
    if (running === null) return;
    running.interrupted = true;
    input.interrupt();
    try {
      await within(interpreter.interrupt(), 1000);
    } catch (error) {
      log(`Cannot interrupt: ${(error as Error).message}`);
    }
  }

  /** Ends without being asked by a client: the parent died, or a signal came. */
  async close(): Promise<void> {
    try {
      await within(this.#state.interpreter.close(), CLOSING_TIME);
    } catch (error) {
      this.#state.log(`Cannot end the session: ${(error as Error).message}`);
    }
    await this.#finish();
  }

  #receive(channel: RoutedChannel, frames: readonly Uint8Array[]): boolean {
    let message;
    try {
      message = decodeMessage(frames, this.#signer, this.#guard);
    } catch (error) {
      this.#state.log(`${(error as Error).message} (dropped, ${channel})`);
      return false;
    }
    if (channel === "stdin") {
      this.#state.input.answer(message);
      return true;
    }
    const request: Request = {
      message,
      channel,
      arrival: channel === "shell"
        ? ++this.#state.shellArrivals
        : ++this.#controlArrivals,
      silent: message.header.msg_type === "execute_request" &&
        flagField(message.content, "silent", false),
      interrupted: false,
      ended: false,
    };
    this.#queues[channel].add(() => this.#serve(request));
    return true;
  }

  /** The one place of busy and idle. */
  async #serve(request: Request): Promise<void> {
    const { publisher, log } = this.#state;
    const { msg_type: type } = request.message.header;
    const handlers = request.channel === "shell"
      ? SHELL_HANDLERS
      : CONTROL_HANDLERS;
    const handler = handlers.get(type);
    const started = new Date().toISOString();
    publisher.publish("status", { execution_state: "busy" }, request);
    try {
      const reply = handler === undefined
        ? null
        : await this.#handle(handler, request);
      publisher.flushText();
      if (handler === undefined) {
        log(`Nobody serves '${type}' on ${request.channel}`);
      }
      if (reply !== null) this.#reply(request, reply.content, started);
      if (reply?.after !== undefined) await within(reply.after(), CLOSING_TIME);
    } catch (error) {
      log(`Cannot answer '${type}': ${(error as Error).message}`);
    }
    request.ended = true;
    publisher.publish("status", { execution_state: "idle" }, request);
    if (type === "shutdown_request") await this.#finish();
  }

  async #handle(handler: Handler, request: Request): Promise<Reply | null> {
    try {
      return await handler(request, this.#state);
    } catch (error) {
      const { msg_type: type } = request.message.header;
      this.#state.log(`Cannot serve '${type}': ${(error as Error).message}`);
      return type.endsWith("_request")
        ? { content: this.#errorContent(type, error) }
        : null;
    }
  }

  #errorContent(type: string, error: unknown): JsonObject {
    const { name, message } = error instanceof Error
      ? error
      : { name: "Error", message: String(error) };
    return {
      status: "error",
      ename: name,
      evalue: message,
      traceback: [`${name}: ${message}`],
      ...(type === "execute_request" &&
        { execution_count: this.#state.executionCount }),
    };
  }

  #reply(request: Request, content: JsonObject, started: string): void {
    const { header, identities, headerBytes } = request.message;
    const { msg_type: type } = header;
    const encode = (content: JsonObject) =>
      encodeMessage({
        header: this.#headers.create(type.replace(/_request$/, "_reply")),
        parentHeader: headerBytes,
        metadata: { started },
        content,
        buffers: [],
      }, this.#signer);
    let frames: Uint8Array[];
    try {
      frames = encode(content);
    } catch (error) {
      frames = encode(this.#errorContent(type, error));
    }
    this.#transport.send(request.channel, [...identities, ...frames]);
  }

  async #finish(): Promise<void> {
    await within(this.#state.history.close(), 1000);
    await this.#transport.flush(1000);
    await this.#transport.close();
    this.#end.resolve();
  }
}
