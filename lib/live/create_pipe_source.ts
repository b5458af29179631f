import type { ReadCaptureOptions } from "../capture/mod.ts";
import { optionOf, requireFields, requireText } from "../options/mod.ts";
import { openReader, readerOfStream } from "./byte_reader.ts";
import type { LiveSource } from "./live_source.ts";
import { streamOfBytes } from "./stream_of_bytes.ts";

/** Options of {@linkcode createPipeSource}. */
export interface PipeSourceOptions extends ReadCaptureOptions {
  /**
   * Longest wait for the first samples, in s.
   *
   * @default {30}
   */
  patience?: number | string;
  /**
   * Where a file that grows is begun: `"end"` leaves out what stands in it.
   *
   * @default {"start"}
   */
  from?: "start" | "end";
}

const patienceOption = optionOf.time("Longest wait, in s.", "30s");

/** Takes the options of a source apart from those of the reader. */
export function pipeSettings(options: PipeSourceOptions, task: string) {
  requireFields(options, "options", [], task);
  const { patience = 30, from = "start", ...reading } = options;
  return {
    reading,
    patience: patienceOption.read(patience, "patience", task),
    from: optionOf.choice("Where a file is begun.", ["start", "end"]).read(
      from,
      "from",
      task,
    ),
  };
}

/**
 * A live source that reads what a recorder or a logger writes: a named pipe, a
 * file that grows, a serial device that sends lines of numbers, or `"-"` for the
 * standard input. WAV, bare numbers (`raw`) or text, as for `readCapture`; WAV of
 * a recorder that does not know its length, too.
 *
 * A pipe is made by `mkfifo` in the notebook's folder; the recorder is started in
 * a shell and writes into it. Nothing more has to be granted for that. A serial
 * device is set by `stty` and granted for reading.
 *
 * @param path The pipe, file or device, or `"-"`.
 * @param options As for `readCapture`; `raw` and `samplingRate` for bare samples.
 * @returns The source.
 *
 * @example
 * ```ts
 * import { createPipeSource } from "fringebook";
 * import { expect } from "vitest";
 *
 * const source = createPipeSource("pipe", {
 *   raw: { type: "int16", channelCount: 2 },
 *   samplingRate: "192kHz",
 *   channels: { "0": "monitor signal" },
 * });
 * expect(source.name).toBe("pipe 'pipe'");
 * await expect(source.open()).rejects.toThrow("there is no such file, pipe");
 * ```
 */
export function createPipeSource(
  path: string,
  options: PipeSourceOptions = {},
): LiveSource {
  const task = "watch a pipe";
  requireText(path, "path", task);
  const { reading, patience, from } = pipeSettings(options, task);
  const name = path === "-" ? "the standard input" : `pipe '${path}'`;
  return {
    name,
    async open(signal) {
      const reader = path === "-"
        ? readerOfStream(Deno.stdin.readable)
        : openReader(path, { fromEnd: from === "end" });
      return await streamOfBytes(reader, {
        name,
        reading,
        patience,
        paced: true,
        signal,
        settings: { "live source": name },
      });
    },
  };
}
