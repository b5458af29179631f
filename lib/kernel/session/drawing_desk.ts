import { drawingLimits } from "./drawing_limits.ts";
import { SessionProcess } from "./session_process.ts";

/** A picture as it comes back: SVG text in UTF-8, and a PNG file. */
export type PictureParts = readonly [svg: Uint8Array, png: Uint8Array];

interface Order {
  readonly id: number;
  readonly resolve: (parts: PictureParts) => void;
  readonly reject: (error: Error) => void;
}

type Timer = ReturnType<typeof setTimeout>;

/**
 * Has pictures drawn by one process for all sessions of a run, so that not each
 * of them loads what draws: four seconds of a processor. Figures go in as JSON
 * text and pictures come out; what takes too long, or is no picture, ends the
 * process, and the next picture starts another.
 */
export class DrawingDesk {
  readonly #command: () => Deno.Command;
  readonly #idleTime: number;
  readonly #eager: boolean;
  #process: SessionProcess | null = null;
  #queue: Promise<unknown> = Promise.resolve();
  #order: Order | null = null;
  #next = 0;
  #waiting = 0;
  #idleTimer: Timer | null = null;
  #closed = false;

  /**
   * A desk whose process starts with the first picture.
   *
   * @param command Makes the command of the process.
   * @param options Time without a picture after which the process ends, in ms, and
   * whether it is started by what only may need it.
   */
  constructor(
    command: () => Deno.Command,
    { idleTime = 600_000, eager = false }: {
      readonly idleTime?: number;
      readonly eager?: boolean;
    } = {},
  ) {
    this.#command = command;
    this.#idleTime = idleTime;
    this.#eager = eager;
  }

  /** Starts the process and lets it load what draws. */
  warm(): void {
    if (this.#process === null) void this.#start()?.send({ type: "warm" });
  }

  /** Code will be run that may need a picture. */
  expect(code: string): void {
    if (this.#eager && /["']fringebook\b/.test(code)) this.warm();
  }

  /**
   * Has a figure drawn, after those that were asked for before.
   *
   * @param figure JSON text of `{ data, layout }` in UTF-8.
   * @param scale Picture pixels per CSS pixel.
   * @throws {Error} If it was not drawn: it is too large, took too long, or is no
   * figure.
   */
  draw(figure: Uint8Array, scale: number): Promise<PictureParts> {
    if (!(figure.length <= drawingLimits.figure)) {
      return Promise.reject(
        new RangeError(`Cannot draw a figure of ${figure.length} bytes here`),
      );
    }
    this.#waiting++;
    const drawn = this.#queue.then(() => this.#drawNow(figure, scale));
    this.#queue = drawn.catch(() => {}).finally(() => {
      this.#waiting--;
      this.#keep();
    });
    return drawn;
  }

  /** Ends the process for good. */
  close(): void {
    this.#closed = true;
    this.#end();
  }

  #drawNow(figure: Uint8Array, scale: number): Promise<PictureParts> {
    const process = this.#start();
    if (process === null) {
      return Promise.reject(new Error("Cannot draw as the desk was closed"));
    }
    const id = ++this.#next;
    return new Promise<PictureParts>((resolve, reject) => {
      const timer = setTimeout(() => {
        this.#end();
        reject(
          new Error(`The picture took over ${drawingLimits.time / 1000} s`),
        );
      }, drawingLimits.time);
      const done = () => {
        clearTimeout(timer);
        this.#order = null;
      };
      this.#order = {
        id,
        resolve: (parts) => {
          done();
          resolve(parts);
        },
        reject: (error) => {
          done();
          reject(error);
        },
      };
      void process.send({ type: "draw", id, scale }, [figure]);
    });
  }

  #start(): SessionProcess | null {
    if (this.#closed) return null;
    this.#keep();
    if (this.#process !== null) return this.#process;
    const process: SessionProcess = new SessionProcess(this.#command(), {
      frame: ({ message, buffers }) => {
        const order = this.#order;
        if (order === null || message["type"] !== "drawn") return;
        if (message["id"] !== order.id) return;
        const [svg, png] = buffers;
        if (svg && png) order.resolve([svg, png]);
        else order.reject(new Error(String(message["error"])));
      },
      stderr: () => {},
      end: () => {
        if (this.#process !== process) return;
        this.#process = null;
        this.#order?.reject(new Error("The process that draws has ended"));
      },
    });
    return this.#process = process;
  }

  #keep(): void {
    if (this.#idleTimer !== null) clearTimeout(this.#idleTimer);
    this.#idleTimer = null;
    if (this.#closed || this.#waiting > 0) return;
    this.#idleTimer = setTimeout(() => this.#end(), this.#idleTime);
    Deno.unrefTimer(this.#idleTimer as unknown as number);
  }

  #end(): void {
    if (this.#idleTimer !== null) clearTimeout(this.#idleTimer);
    this.#idleTimer = null;
    const process = this.#process;
    this.#process = null;
    process?.kill();
    this.#order?.reject(new Error("The process that draws was ended"));
  }
}
