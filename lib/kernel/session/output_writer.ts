import type { Output } from "../protocol/interpreter.ts";
import { encodeFrame } from "./frames.ts";

const longestStream = 65536;
const longestDelay = 50;
/** Words of a burst that go at once: what waits to be joined, a crash loses. */
const mostEarly = 5;

/**
 * Writes the messages of a session to its owner, at once and blocking: when
 * the owner reads slowly, the cell waits, so that memory stays bounded. Text
 * that follows on text of the same stream is joined.
 */
export class OutputWriter {
  #request = "";
  #name: "stdout" | "stderr" = "stdout";
  #text: string[] = [];
  #size = 0;
  #since = -Infinity;
  #early = 0;
  #latest = -Infinity;
  #timer: ReturnType<typeof setTimeout> | null = null;
  readonly #now = performance.now.bind(performance);
  readonly #later = setTimeout.bind(globalThis);

  /** @param write Writes some of the bytes and returns how many. */
  constructor(private readonly write: (bytes: Uint8Array) => number) {}

  /** Sends an output of a request. */
  output(request: string, output: Output): void {
    if (output.type === "stream") {
      this.#stream(request, output.name, output.text);
      return;
    }
    this.flush();
    if ("buffers" in output) {
      const { buffers, ...rest } = output;
      this.#send({ type: "output", request, output: rest }, buffers);
    } else {
      this.#send({ type: "output", request, output });
    }
  }

  /** Sends any other message, after all outputs so far. */
  send(message: Record<string, unknown>): void {
    this.flush();
    this.#send(message);
  }

  /** Sends the text that has waited long enough; quick where there is none. */
  flushDue(): void {
    if (this.#text.length > 0 && this.#isDue()) this.flush();
  }

  /** Sends the text that waits to be joined. */
  flush(): void {
    if (this.#timer !== null) clearTimeout(this.#timer);
    this.#timer = null;
    if (this.#text.length === 0) return;
    this.#since = this.#now();
    const text = this.#text.join("");
    this.#text = [];
    this.#size = 0;
    this.#send({
      type: "output",
      request: this.#request,
      output: { type: "stream", name: this.#name, text },
    });
  }

  #stream(request: string, name: "stdout" | "stderr", text: string): void {
    if (text === "") return;
    if (this.#request !== request || this.#name !== name) this.flush();
    this.#request = request;
    this.#name = name;
    this.#text.push(text);
    this.#size += text.length;
    // The first words go at once: a busy cell may not come back for long.
    const now = this.#now();
    if (now - this.#latest > longestDelay) this.#early = 0;
    this.#latest = now;
    const atOnce = this.#early++ < mostEarly || this.#isDue();
    if (this.#size > longestStream || atOnce) this.flush();
    else this.#timer ??= this.#later(() => this.flush(), longestDelay / 2);
  }

  #isDue(): boolean {
    return this.#now() - this.#since > longestDelay;
  }

  #send(message: Record<string, unknown>, buffers?: Uint8Array[]): void {
    for (const piece of encodeFrame(plain(message), buffers)) {
      let rest = piece;
      while (rest.length > 0) rest = rest.subarray(this.write(rest));
    }
  }
}

/** What JSON has no form for: large integers as text, bytes as base64. */
function plain(message: Record<string, unknown>): Record<string, unknown> {
  try {
    JSON.stringify(message);
    return message;
  } catch {
    return JSON.parse(
      JSON.stringify(
        message,
        (_, value) => typeof value === "bigint" ? String(value) : value,
      ),
    );
  }
}
