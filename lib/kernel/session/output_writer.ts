import type { Output } from "../protocol/interpreter.ts";
import { encodeFrame, TextFrames } from "./frames.ts";

/**
 * Writes the messages of a session to its owner, at once and blocking: when
 * the owner reads slowly, the cell waits, so that memory stays bounded. Nothing
 * waits on this side, as a crash would lose it; the owner joins text.
 */
export class OutputWriter {
  readonly #texts = new TextFrames();
  /** Where text goes at present: stream and request. */
  #target = "";

  /** @param write Writes some of the bytes and returns how many. */
  constructor(private readonly write: (bytes: Uint8Array) => number) {}

  /** Sends an output of a request. */
  output(request: string, output: Output): void {
    if (output.type === "stream") {
      this.#stream(request, output.name, output.text);
    } else if ("buffers" in output) {
      const { buffers, ...rest } = output;
      this.#send({ type: "output", request, output: rest }, buffers);
    } else {
      this.#send({ type: "output", request, output });
    }
  }

  /** Sends any other message, after all outputs so far. */
  send(message: Record<string, unknown>, buffers?: Uint8Array[]): void {
    this.#send(message, buffers);
  }

  #stream(request: string, name: "stdout" | "stderr", text: string): void {
    if (text === "") return;
    const target = `${name} ${request}`;
    if (target !== this.#target) {
      this.#send({ type: "stream", request, name });
      this.#target = target;
    }
    for (const piece of this.#texts.encode(text)) this.#write(piece);
  }

  #send(message: Record<string, unknown>, buffers?: Uint8Array[]): void {
    for (const piece of encodeFrame(plain(message), buffers)) {
      this.#write(piece);
    }
  }

  #write(piece: Uint8Array): void {
    let rest = piece;
    while (rest.length > 0) rest = rest.subarray(this.write(rest));
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
