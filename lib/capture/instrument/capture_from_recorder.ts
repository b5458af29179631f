import { requireFields, requireList, requireText } from "../../options/mod.ts";
import type { Shown } from "../../result/mod.ts";
import type { Capture } from "../capture.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { parseCapture } from "../read_capture.ts";
import { InstrumentError } from "./instrument_error.ts";
import {
  type AskPermission,
  askRuntime,
  requirePermission,
} from "./permission.ts";

/** Options of {@linkcode captureFromRecorder}. */
export interface RecorderOptions extends ReadCaptureOptions {
  /**
   * Longest wait for the program to end, in s; it is stopped then and what it
   * has written is read.
   *
   * @default {60}
   */
  timeout?: number;
  /**
   * Decides whether the program may be run.
   *
   * @default {the runtime asks the person}
   */
  ask?: AskPermission;
}

/**
 * Takes a capture from the sound card, or from anything else that has a
 * recording program: runs the program, without a shell, and reads the WAV file
 * or raw samples that it writes to its standard output.
 *
 * @param command Program and arguments, such as `["arecord", "-q", "-t", "wav",
 * "-f", "S16_LE", "-r", "48000", "-c", "2", "-d", "5"]`.
 * @param options As for `readCapture`; `raw` for a program that writes bare
 * samples.
 * @returns The capture.
 * @throws {InstrumentError} If the program is not allowed, fails, or writes
 * nothing.
 *
 * @example
 * ```ts
 * import { captureFromRecorder } from "fringebook";
 * import { expect } from "vitest";
 *
 * const refused = await captureFromRecorder(["record"], {
 *   ask: () => Promise.resolve(false),
 * }).catch((error) => error);
 * expect(refused.reason).toBe("not allowed");
 * ```
 */
export async function captureFromRecorder(
  command: readonly string[],
  options: RecorderOptions = {},
): Promise<Capture & Shown> {
  const task = "record";
  requireList(command, "command", task);
  for (const part of command) requireText(part, "command[…]", task);
  requireFields(options, "options", [], task);
  const { timeout = 60, ask = askRuntime, ...read } = options;
  const { maximumSize = 2 ** 30 } = read;
  const [program, ...args] = command;
  if (program === undefined || program === "") {
    throw new RangeError(
      "Cannot record as no program is given: give the command of your system's recorder",
    );
  }
  if (!(timeout > 0)) {
    throw new RangeError(
      `Cannot record as 'timeout' must be a positive number of s: current value is ${timeout}`,
    );
  }
  await requirePermission(ask, "program", program);
  const startTime = new Date().toISOString();
  let child: Deno.ChildProcess;
  try {
    child = new Deno.Command(program, {
      args,
      stdin: "null",
      stdout: "piped",
      stderr: "piped",
    }).spawn();
  } catch (error) {
    throw new InstrumentError(
      "no program",
      `Cannot run '${program}': ${(error as Error).message}`,
    );
  }
  let stopped = false;
  const stop = () => {
    stopped = true;
    try {
      child.kill("SIGTERM");
    } catch {
      // It has ended by itself.
    }
  };
  const timer = setTimeout(stop, timeout * 1000);
  const complaint = firstText(child.stderr);
  let bytes: Uint8Array;
  try {
    bytes = await collect(child.stdout, maximumSize, stop);
  } finally {
    clearTimeout(timer);
  }
  const { success, code } = await child.status;
  const said = await complaint;
  if (bytes.length === 0 || (!success && !stopped)) {
    throw new InstrumentError(
      "recorder failed",
      `'${program}' ended with code ${code} after ${bytes.length} bytes${
        said === "" ? "" : `: ${said}`
      }`,
    );
  }
  return parseCapture(bytes, {
    startTime,
    fileName: null,
    ...read,
  }) as Capture & Shown;
}

async function collect(
  stream: ReadableStream<Uint8Array>,
  maximumSize: number,
  stop: () => void,
): Promise<Uint8Array> {
  const parts: Uint8Array[] = [];
  let size = 0;
  for await (const part of stream) {
    size += part.length;
    if (size > maximumSize) {
      stop();
      throw new InstrumentError(
        "too large",
        `The recorder wrote more than ${maximumSize} bytes: record less, or raise 'maximumSize'`,
      );
    }
    parts.push(part);
  }
  const bytes = new Uint8Array(size);
  let at = 0;
  for (const part of parts) {
    bytes.set(part, at);
    at += part.length;
  }
  return bytes;
}

/** The first 500 characters of what a program complains. */
async function firstText(stream: ReadableStream<Uint8Array>): Promise<string> {
  let text = "";
  const decoder = new TextDecoder();
  for await (const part of stream) {
    if (text.length < 500) text += decoder.decode(part, { stream: true });
  }
  return text.slice(0, 500).trim();
}
