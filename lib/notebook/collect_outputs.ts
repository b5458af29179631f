import type { Output } from "../kernel/protocol/mod.ts";
import { progressKey } from "../kernel/session/mod.ts";
import {
  joinText,
  type NotebookCell,
  type NotebookOutput,
} from "./notebook.ts";

/**
 * What an output says of the work of its cell; `null` for any other output.
 * Progress is not kept: it would only make two runs differ.
 */
export function progressOf(output: Output): string | null {
  return output.type !== "display_data" &&
        output.type !== "update_display_data" ||
      !(progressKey in output.metadata)
    ? null
    : String(output.data["text/plain"] ?? "");
}

/** Longest text of one stream of a cell that is kept, in characters. */
export const longestStream = 1_000_000;

/** Puts the outputs of running cells into the cells of a notebook. */
export class OutputCollector {
  readonly #displays = new Map<string, NotebookOutput[]>();
  readonly #clearing = new WeakSet<NotebookCell>();
  readonly #streams = new WeakMap<NotebookOutput, LongText>();

  /** Takes one output of a cell. */
  add(cell: NotebookCell, output: Output): void {
    const outputs = cell.outputs ??= [];
    if (output.type === "clear_output") {
      if (output.wait) this.#clearing.add(cell);
      else outputs.length = 0;
      return;
    }
    if (output.type === "update_display_data") {
      for (const shown of this.#displays.get(output.displayId ?? "") ?? []) {
        Object.assign(shown, { data: output.data, metadata: output.metadata });
      }
      return;
    }
    if (this.#clearing.delete(cell)) outputs.length = 0;
    if (output.type === "stream") {
      this.#stream(outputs, output.name, output.text);
    } else if (output.type === "display_data") {
      const shown: NotebookOutput = {
        output_type: "display_data",
        data: output.data,
        metadata: output.metadata,
      };
      outputs.push(shown);
      if (output.displayId !== null) {
        const list = this.#displays.get(output.displayId) ?? [];
        this.#displays.set(output.displayId, [...list, shown]);
      }
    }
  }

  #stream(
    outputs: NotebookOutput[],
    name: "stdout" | "stderr",
    text: string,
  ): void {
    const last = outputs.at(-1);
    if (last?.output_type === "stream" && last.name === name) {
      const long = this.#streams.get(last) ??
        new LongText(joinText(last.text as string));
      this.#streams.set(last, long);
      long.add(text);
      Object.defineProperty(last, "text", {
        get: () => long.text,
        configurable: true,
        enumerable: true,
      });
      return;
    }
    outputs.push({ output_type: "stream", name, text });
  }
}

/** A text of which, when it is too long, only both ends are kept. */
class LongText {
  #head: string;
  #tail: string[] = [];
  #tailLength = 0;
  #dropped = 0;

  constructor(head: string) {
    this.#head = head;
  }

  add(text: string): void {
    const half = longestStream / 2;
    const room = Math.max(0, half - this.#head.length);
    if (this.#tail.length === 0 && room > 0) {
      this.#head += text.slice(0, room);
      text = text.slice(room);
    }
    if (text === "") return;
    this.#tail.push(text);
    this.#tailLength += text.length;
    while (this.#tailLength - this.#tail[0]!.length >= half) {
      const gone = this.#tail.shift()!;
      this.#tailLength -= gone.length;
      this.#dropped += gone.length;
    }
  }

  get text(): string {
    const gap = this.#dropped === 0
      ? ""
      : `\n… ${this.#dropped} characters left out …\n`;
    return this.#head + gap + this.#tail.join("");
  }
}
