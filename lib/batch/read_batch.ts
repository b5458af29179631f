import { requireList, requireText } from "../options/mod.ts";
import { TextLineStream } from "@std/streams/text-line-stream";
import { cryptoModule, regularFileSize } from "../runtime/mod.ts";
import type { FileOutcome } from "./file_outcome.ts";
import { type BatchConflict, joinOutcomes } from "./join_outcomes.ts";

/** The outcomes that the file of a batch holds. */
export interface Batch {
  /** Name of the file that was read. */
  readonly fileName: string;
  /** SHA-256 of the file, in hex; `null` if made in memory. */
  readonly sha256: string | null;
  /** One outcome per capture: the last where a run was repeated. */
  readonly outcomes: readonly FileOutcome[];
  /**
   * Numbers of the lines, from 1, that hold no outcome: torn or foreign. Of
   * several files, counted through.
   */
  readonly brokenLines: readonly number[];
  /** Captures that several files hold with other results; none if left out. */
  readonly conflicts?: readonly BatchConflict[];
}

/**
 * Reads the JSON lines that `deno task measure … --output FILE` wrote. A run
 * that was repeated writes a second line for a capture that failed before: the
 * last line counts. A torn line is reported, not lost in silence. Of several
 * files, such as those of an array job, each capture counts once: measured
 * before failed, and where two files hold other results the last file counts
 * and `conflicts` names the capture.
 *
 * @param path Path of the file with JSON lines, or a list of such paths.
 * @returns The outcomes, in order of first appearance.
 * @throws {RangeError} If no line holds an outcome.
 *
 * @example
 * ```ts
 * import { readBatch } from "fringebook";
 * import { expect } from "vitest";
 *
 * const path = await Deno.makeTempFile();
 * const outcome = {
 *   file: "a.csv",
 *   status: "failed",
 *   measurement: null,
 *   reason: null,
 *   reports: [],
 *   error: { name: "NotFound", message: "no such file" },
 * };
 * await Deno.writeTextFile(path, JSON.stringify(outcome) + "\n");
 * expect((await readBatch(path)).outcomes[0]).toMatchObject(outcome);
 * await Deno.remove(path);
 * ```
 */
export async function readBatch(
  path: string | readonly string[],
): Promise<Batch> {
  const task = "read a batch";
  const paths = typeof path === "string" ? [path] : path;
  requireList(paths, "path", task);
  for (const each of paths) requireText(each, "path", task);
  const hash = cryptoModule().createHash("sha256");
  const brokenLines: number[] = [];
  const parts: { fileName: string; outcomes: Map<string, FileOutcome> }[] = [];
  let lineCount = 0;
  for (const each of paths) {
    const part = await readPart(each, (bytes) => hash.update(bytes));
    brokenLines.push(...part.brokenLines.map((line) => line + lineCount));
    lineCount += part.lineCount;
    parts.push({ fileName: nameOf(each), outcomes: part.outcomes });
  }
  const { outcomes, conflicts } = joinOutcomes(parts);
  if (outcomes.length === 0) {
    throw new RangeError(
      `Cannot read a batch as none of the ${lineCount} lines of '${
        paths.join("', '")
      }' holds the outcome of a capture: give the file that 'deno task measure … --output' wrote`,
    );
  }
  return {
    fileName: parts.map(({ fileName }) => fileName).join(", "),
    sha256: hash.digest("hex"),
    outcomes,
    brokenLines,
    conflicts,
  };
}

function nameOf(path: string): string {
  return path.replace(/^.*[/\\]/, "");
}

/** What one file holds: of each capture its last line. */
async function readPart(
  path: string,
  take: (bytes: Uint8Array<ArrayBuffer>) => void,
): Promise<{
  readonly outcomes: Map<string, FileOutcome>;
  readonly brokenLines: readonly number[];
  readonly lineCount: number;
}> {
  const outcomes = new Map<string, FileOutcome>();
  const brokenLines: number[] = [];
  let number = 0;
  await regularFileSize(path);
  const file = await Deno.open(path);
  const lines: ReadableStream<string> = file.readable
    .pipeThrough(
      new TransformStream<Uint8Array<ArrayBuffer>, BufferSource>({
        transform(bytes, controller) {
          take(bytes);
          controller.enqueue(bytes);
        },
      }),
    )
    .pipeThrough(new TextDecoderStream())
    .pipeThrough(new TextLineStream());
  for await (const line of lines) {
    number++;
    if (line.trim() === "") continue;
    const outcome = outcomeOf(line);
    if (outcome === null) brokenLines.push(number);
    else outcomes.set(outcome.file, outcome);
  }
  return { outcomes, brokenLines, lineCount: number };
}

function outcomeOf(line: string): FileOutcome | null {
  let value: unknown;
  try {
    value = JSON.parse(line);
  } catch {
    return null;
  }
  if (typeof value !== "object" || value === null) return null;
  const { file, status, measurement, reason, reports, error, ...more } =
    value as Partial<FileOutcome>;
  if (typeof file !== "string" || !Array.isArray(reports)) return null;
  if (status !== "measured" && status !== "failed") return null;
  return {
    file,
    status,
    measurement: typeof measurement === "string" ? measurement : null,
    reason: typeof reason === "string" ? reason : null,
    reports,
    error: error
      ? { name: String(error.name), message: String(error.message) }
      : null,
    settings: isObject(more.settings) ? more.settings : null,
    source: isObject(more.source)
      ? {
        size: Number(more.source.size),
        modified: Number(more.source.modified),
      }
      : null,
  };
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
