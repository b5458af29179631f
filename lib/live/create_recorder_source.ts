import { type AskPermission, InstrumentError } from "../capture/mod.ts";
import { requireList, requireText } from "../options/mod.ts";
import { readerOfStream } from "./byte_reader.ts";
import { pipeSettings, type PipeSourceOptions } from "./create_pipe_source.ts";
import type { LiveSource } from "./live_source.ts";
import { streamOfBytes } from "./stream_of_bytes.ts";

/** Options of {@linkcode createRecorderSource}. */
export interface RecorderSourceOptions extends Omit<PipeSourceOptions, "from"> {
  /**
   * Decides whether the program may be run.
   *
   * @default {the runtime asks the person}
   */
  ask?: AskPermission;
}

/**
 * A live source that runs the system's own recorder, without a shell, and reads
 * what it writes to its standard output. Where programs may not be run, as in a
 * notebook without a grant, start the recorder in a shell and give its output to
 * `createPipeSource`.
 *
 * @param command Program and arguments, such as `["arecord", "-q", "-t", "raw",
 * "-f", "S16_LE", "-r", "192000", "-c", "2"]`.
 * @param options As for `readCapture`; `raw` and `samplingRate` for bare samples.
 * @returns The source; the program runs from `open` until `close`.
 *
 * @example
 * ```ts
 * import { createRecorderSource } from "fringebook/live";
 * import { expect } from "vitest";
 *
 * const source = createRecorderSource(["record"], {
 *   ask: () => Promise.resolve(false),
 * });
 * await expect(source.open()).rejects.toThrow("not allowed");
 * ```
 */
export function createRecorderSource(
  command: readonly string[],
  options: RecorderSourceOptions = {},
): LiveSource {
  const task = "watch a recorder";
  requireList(command, "command", task);
  for (const part of command) requireText(part, "command[…]", task);
  const [program = "", ...args] = command;
  if (program === "") {
    throw new RangeError(
      "Cannot watch a recorder as no program is given: give the command of your system's recorder",
    );
  }
  const { ask, ...pipe } = (options ?? {}) as RecorderSourceOptions;
  const { reading, patience } = pipeSettings(
    options === null || typeof options !== "object" ? options : pipe,
    task,
  );
  const name = `recorder '${program}'`;
  return {
    name,
    async open(signal) {
      await allowProgram(program, ask);
      let child: Deno.ChildProcess;
      try {
        child = new Deno.Command(program, {
          args,
          stdin: "null",
          stdout: "piped",
          stderr: "null",
        }).spawn();
      } catch (error) {
        throw new InstrumentError(
          "no program",
          `Cannot run '${program}': ${
            (error as Error).message
          }. Where a notebook may run no programs, start the recorder in a shell with its output into a pipe, and give that to createPipeSource(…)`,
        );
      }
      const stop = async () => {
        try {
          child.kill("SIGTERM");
        } catch {
          // It has ended by itself.
        }
        await child.status;
      };
      return await streamOfBytes(readerOfStream(child.stdout, stop), {
        name,
        reading,
        patience,
        paced: true,
        signal,
        settings: { "live source": name, command: command.join(" ") },
      });
    },
  };
}

async function allowProgram(
  program: string,
  ask: AskPermission | undefined,
): Promise<void> {
  const state = ask === undefined
    ? (await Deno.permissions.request({ name: "run", command: program })).state
    : await ask({ kind: "program", name: program })
    ? "granted"
    : "denied";
  if (state === "granted") return;
  throw new InstrumentError(
    "not allowed",
    `Cannot run '${program}' as it was not allowed. Grant it (deno task kernel --user --allow-run=${program}), or start it in a shell with its output into a pipe, and give that to createPipeSource(…)`,
  );
}
