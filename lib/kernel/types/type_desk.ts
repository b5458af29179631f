import { TextLineStream } from "@std/streams/text-line-stream";
import type { TypeQuestion } from "./main.ts";
import type { FailedCell, TypeNote } from "./type_service.ts";

/** Longest wait for an answer, in ms. */
const answerTime = 1000;
/** Pause of the cells after which types are read, in ms. */
const pauseTime = 2000;
/** Cells that are kept. */
const mostCells = 200;
/** Processes started for a session at most. */
const mostStarts = 3;

type Answer = (value: unknown) => void;
type Timer = ReturnType<typeof setTimeout>;
type Asked = Extract<TypeQuestion, { id: number }>;

/**
 * Asks a process of its own what types say, and never waits long: while the
 * process is not ready, or is slow, there is no answer. It starts when the
 * cells pause after a good one with an import, or when one fails, and ends when
 * nothing was asked for a while.
 */
export class TypeDesk {
  readonly #command: () => Deno.Command;
  readonly #idleTime: number;
  readonly #cells: string[] = [];
  readonly #answers = new Map<number, Answer>();
  #child: Deno.ChildProcess | null = null;
  #writer: WritableStreamDefaultWriter<Uint8Array> | null = null;
  #ready = false;
  #next = 0;
  #starts = 0;
  #pauseTimer: Timer | null = null;
  #idleTimer: Timer | null = null;
  #closed = false;

  /**
   * @param command Makes the command of the process.
   * @param idleTime Time without a cell after which the process ends, in ms.
   */
  constructor(command: () => Deno.Command, idleTime = 900_000) {
    this.#command = command;
    this.#idleTime = idleTime;
  }

  /** A cell begins: nothing is read beside it. */
  begin(): void {
    clear(this.#pauseTimer);
    this.#pauseTimer = null;
  }

  /** Takes note of a cell whose names later cells may use. */
  add(code: string): void {
    this.#cells.push(code);
    if (this.#cells.length > mostCells) this.#cells.shift();
    this.#send({ type: "add", code });
    const wanted = this.#child !== null || /\bimport\b/.test(code);
    if (wanted) this.#wait();
  }

  /** Forgets the cells: their session has ended. */
  clear(): void {
    this.#cells.length = 0;
    this.#send({ type: "clear" });
  }

  /**
   * What types say of the lines at which a cell failed.
   *
   * @returns Notes; empty where there are none or they did not come in time.
   */
  async notes(cell: FailedCell): Promise<readonly TypeNote[]> {
    const notes = await this.#ask({ type: "notes", id: 0, cell });
    this.start();
    return notes as TypeNote[] | null ?? [];
  }

  /**
   * Names that can follow the dot before the cursor.
   *
   * @param code The cell.
   * @param cursor In UTF-16 units.
   */
  async members(code: string, cursor: number): Promise<readonly string[]> {
    const names = await this.#ask({ type: "members", id: 0, code, cursor });
    return names as string[] | null ?? [];
  }

  /** Starts the process; resolves when it is ready to answer. */
  start(): Promise<void> {
    this.begin();
    this.#keep();
    if (this.#child || this.#closed || this.#starts >= mostStarts) {
      return Promise.resolve();
    }
    this.#starts++;
    const child = this.#child = this.#command().spawn();
    this.#writer = child.stdin.getWriter();
    this.#writer.closed.catch(() => {});
    void this.#read(child);
    for (const code of this.#cells) this.#send({ type: "add", code });
    return this.#warm();
  }

  /** Ends the process for good. */
  async close(): Promise<void> {
    this.#closed = true;
    await this.#end();
  }

  #wait(): void {
    this.begin();
    this.#pauseTimer = setTimeout(() => {
      this.#pauseTimer = null;
      void (this.#child ? this.#warm() : this.start());
    }, pauseTime);
  }

  #keep(): void {
    clear(this.#idleTimer);
    this.#idleTimer = setTimeout(() => void this.#end(), this.#idleTime);
  }

  async #warm(): Promise<void> {
    await new Promise<unknown>((resolve) =>
      this.#put({ type: "warm", id: 0 }, resolve)
    );
    this.#ready = this.#child !== null;
  }

  #ask(question: Asked): Promise<unknown> {
    // Answers that nobody waits for any more must not pile up.
    if (!this.#ready || this.#answers.size > 0) return Promise.resolve(null);
    this.#keep();
    return new Promise((resolve) => {
      const timer = setTimeout(() => resolve(null), answerTime);
      this.#put(question, (value) => {
        clearTimeout(timer);
        resolve(value);
      });
    });
  }

  #put(question: Asked, answer: Answer): void {
    const id = ++this.#next;
    this.#answers.set(id, answer);
    this.#send({ ...question, id });
  }

  #send(question: TypeQuestion): void {
    const line = new TextEncoder().encode(`${JSON.stringify(question)}\n`);
    this.#writer?.write(line).catch(() => {});
  }

  async #read(child: Deno.ChildProcess): Promise<void> {
    const lines = child.stdout
      .pipeThrough(new TextDecoderStream())
      .pipeThrough(new TextLineStream());
    try {
      for await (const line of lines) {
        const { id, value } = JSON.parse(line as string) as {
          id: number;
          value: unknown;
        };
        this.#answers.get(id)?.(value);
        this.#answers.delete(id);
      }
    } catch {
      // What came is no answer: the process is of no use any more.
    }
    if (this.#child === child) await this.#end();
  }

  async #end(): Promise<void> {
    const child = this.#child;
    this.#child = null;
    this.#ready = false;
    clear(this.#pauseTimer);
    clear(this.#idleTimer);
    for (const answer of this.#answers.values()) answer(null);
    this.#answers.clear();
    if (child === null) return;
    const writer = this.#writer;
    this.#writer = null;
    try {
      child.kill("SIGKILL");
    } catch {
      // It has ended in the meantime.
    }
    await writer?.close().catch(() => {});
    await child.status;
  }
}

function clear(timer: Timer | null): void {
  if (timer !== null) clearTimeout(timer);
}
