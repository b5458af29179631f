import { encodeFrame, type Frame, FrameReader } from "./frames.ts";
import { UnlinkedFilesWatch } from "./unlinked_files.ts";

/** How a session's process ended. */
export interface SessionEnd {
  /** Exit code, `null` where a signal ended it. */
  readonly code: number | null;
  readonly signal: string | null;
  /** The code given to `Deno.exit` by a cell; `null` if none did. */
  readonly exitCalled: number | null;
  /** Resident memory in bytes when the limit was passed; `null` if it was not. */
  readonly memory: number | null;
  /**
   * Bytes in files that were removed while open, when the limit was passed; `null`
   * if it was not.
   */
  readonly unlinked: number | null;
  /** The end of what the process wrote on its error stream. */
  readonly lastWords: string;
}

/** What the owner of a process is told. */
export interface SessionEvents {
  /** A frame came; the next is read when the promise is settled. */
  frame(frame: Frame): void | Promise<void>;
  /** Text on the error stream, not from cells but from the runtime. */
  stderr(text: string): void;
  /** The process has ended and all its frames were given out. */
  end(end: SessionEnd): void;
}

// deno-lint-ignore no-control-regex
const memoryMark = /\x01fringebook-memory (\d+)\n/;

/** How the last words of a process begin that ran out of memory. */
const dying = /<--- Last few GCs --->|^# Fatal /m;

/** The process of a session, seen from its owner. */
export class SessionProcess {
  readonly #child: Deno.ChildProcess;
  readonly #writer: WritableStreamDefaultWriter<Uint8Array>;
  #exitCalled: number | null = null;
  #memory: number | null = null;
  #unlinked: number | null = null;
  readonly #watchFiles: UnlinkedFilesWatch;
  #lastWords = "";
  #ended = false;
  #untold = "";
  #tellTimer: ReturnType<typeof setTimeout> | null = null;

  /**
   * @param command Starts it.
   * @param events Who is told.
   * @param limits Most bytes that it may send in all, and that it may hold in files
   * which were removed while open.
   */
  constructor(
    command: Deno.Command,
    private readonly events: SessionEvents,
    private readonly limits: {
      readonly output: number;
      readonly unlinked: number;
    } = { output: Infinity, unlinked: Infinity },
  ) {
    this.#child = command.spawn();
    this.#watchFiles = new UnlinkedFilesWatch(
      this.#child.pid,
      limits.unlinked,
      (bytes) => {
        this.#unlinked = bytes;
        this.kill();
      },
    );
    this.#writer = this.#child.stdin.getWriter();
    this.#writer.closed.catch(() => {});
    void this.#watch();
  }

  /**
   * Sends a message; drops it where the process has ended.
   *
   * @returns Settled when the process has taken it, or will not any more.
   */
  async send(
    message: Record<string, unknown>,
    buffers: Uint8Array[] = [],
  ): Promise<void> {
    await Promise.all(
      encodeFrame(message, buffers).map((piece) =>
        this.#writer.write(piece).catch(() => {})
      ),
    );
  }

  /** Ends the process at once. */
  kill(): void {
    if (this.#ended) return;
    try {
      this.#child.kill("SIGKILL");
    } catch {
      // It has ended in the meantime.
    }
  }

  async #watch(): Promise<void> {
    const [status] = await Promise.all([
      this.#child.status,
      this.#readFrames(),
      this.#readErrors(),
    ]);
    this.#ended = true;
    this.#watchFiles.stop();
    if (this.#tellTimer !== null) clearTimeout(this.#tellTimer);
    await this.#writer.close().catch(() => {});
    this.events.end({
      code: status.signal ? null : status.code,
      signal: status.signal,
      exitCalled: this.#exitCalled,
      memory: this.#memory,
      unlinked: this.#unlinked,
      lastWords: this.#lastWords,
    });
  }

  async #readFrames(): Promise<void> {
    const reader = new FrameReader();
    let size = 0;
    try {
      for await (const chunk of this.#child.stdout) {
        size += chunk.length;
        if (size > this.limits.output) {
          throw new RangeError(
            `It showed more than its limit of ${this.limits.output / 1e6} MB`,
          );
        }
        for (const frame of reader.push(chunk)) {
          if (frame.message["type"] === "exit") {
            this.#exitCalled = Number(frame.message["code"]);
            this.kill();
          }
          await this.events.frame(frame);
        }
      }
    } catch (error) {
      // Whatever came is not frames: the session cannot be trusted any more.
      this.#lastWords += `\n${error}`;
      this.kill();
    }
  }

  async #readErrors(): Promise<void> {
    const decoder = new TextDecoder();
    for await (const chunk of this.#child.stderr) {
      let text = decoder.decode(chunk, { stream: true });
      const found = memoryMark.exec(text);
      if (found) {
        this.#memory = Number(found[1]);
        text = text.replaceAll(new RegExp(memoryMark, "g"), "");
        this.kill();
      }
      this.#lastWords = (this.#lastWords + text).slice(-8192);
      this.#tell(text);
    }
  }

  /** Words of a process that dies right after them are not told. */
  #tell(text: string): void {
    if (dying.test(this.#lastWords)) return;
    this.#untold += text;
    this.#tellTimer ??= setTimeout(() => {
      this.#tellTimer = null;
      const untold = this.#untold;
      this.#untold = "";
      if (dying.test(this.#lastWords)) return;
      if (untold !== "") this.events.stderr(untold);
    }, 200);
  }
}
