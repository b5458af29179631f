import type { Output } from "../protocol/interpreter.ts";

const longestText = 65536;

/** Options of {@linkcode StreamJoiner}. */
export interface StreamJoinerOptions {
  /**
   * How long text may wait for more, in ms.
   *
   * @default {50}
   */
  delay?: number;
}

/**
 * Joins text that follows on text of the same stream, so that many short lines
 * make few messages. The first words after a pause go at once.
 */
export class StreamJoiner {
  #request = "";
  #name: "stdout" | "stderr" = "stdout";
  #text: string[] = [];
  #size = 0;
  #since = -Infinity;
  #timer: ReturnType<typeof setTimeout> | null = null;
  readonly #delay: number;

  /**
   * @param publish Takes what was joined, with its request.
   * @param options How long text may wait.
   */
  constructor(
    private readonly publish: (request: string, output: Output) => void,
    options: StreamJoinerOptions = {},
  ) {
    const { delay = 50 } = options;
    this.#delay = delay;
  }

  /** Takes text of a stream. */
  add(request: string, name: "stdout" | "stderr", text: string): void {
    if (this.#request !== request || this.#name !== name) this.flush();
    this.#request = request;
    this.#name = name;
    this.#text.push(text);
    this.#size += text.length;
    const waited = performance.now() - this.#since;
    if (this.#size > longestText || waited > this.#delay) this.flush();
    else {
      this.#timer ??= setTimeout(() => this.flush(), this.#delay - waited);
    }
  }

  /** Gives out what waits; before anything else is told. */
  flush(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    if (this.#size === 0) return;
    this.#since = performance.now();
    const text = this.#text.join("");
    this.#text = [];
    this.#size = 0;
    this.publish(this.#request, { type: "stream", name: this.#name, text });
  }
}
