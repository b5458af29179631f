import { join } from "@std/path";
import { type Capture, readCapture } from "../capture/mod.ts";
import type { ReadCaptureOptions } from "../capture/mod.ts";
import { makeStudentSet, type ManifestValue } from "../datasets/mod.ts";
import { nearestName, requireText } from "../options/mod.ts";
import type { Shown } from "../result/mod.ts";
import { type AskedQuestion, askQuestions } from "./answer_book.ts";

/** A capture of a handout, and what a person at the bench knows of it. */
export interface HandedOutEntry {
  /** File name in the folder of the handout. */
  readonly file: string;
  /** What was recorded, one sentence. */
  readonly what: string;
  /** Options for `readCapture`: what the file does not say. */
  readonly reading: ReadCaptureOptions;
  /** What is known, with standard uncertainties. */
  readonly known: Readonly<Record<string, ManifestValue>>;
}

/** A handout that was opened. */
export interface HandedOut {
  /** Captures by name. */
  readonly bench: Readonly<Record<string, HandedOutEntry>>;
  /** What is known of the captures, a row each, for `table`. */
  readonly known: readonly {
    readonly capture: string;
    readonly quantity: string;
    readonly value: number;
    readonly "standard uncertainty": number;
    readonly unit: string;
    readonly from: string;
  }[];
  /** Names of the questions. */
  readonly questions: readonly string[];
  /** Whose captures they are, in one sentence. */
  readonly note: string;
  /**
   * Reads a capture.
   *
   * @param name Its name, such as `"my-distance"`.
   * @returns The capture.
   * @throws {RangeError} If there is no such capture.
   */
  readonly capture: (name: string) => Promise<Capture & Shown>;
}

/**
 * Opens the handout that lies beside a notebook: its captures, what is known of
 * them, and its questions; from then on a misspelt question is refused. Where no
 * handout lies beside it, as in the assignment itself, captures of nobody are
 * simulated, and `note` says so.
 *
 * @param folder Folder of the handout's files.
 * @returns Captures, questions, and a note.
 * @throws {SyntaxError} If a file of the handout is damaged.
 *
 * @example
 * ```ts
 * import { openHandout } from "fringebook";
 * import { expect } from "vitest";
 *
 * const handout = await openHandout("out/no_such_folder");
 * expect(handout.note).toContain("captures of nobody");
 * expect(Object.keys(handout.bench)).toContain("my-distance");
 * ```
 */
export async function openHandout(folder = "data"): Promise<HandedOut> {
  requireText(folder, "folder", "open a handout");
  const bench = await parsedFile<Record<string, HandedOutEntry>>(
    join(folder, "bench.json"),
  );
  if (bench === null) return demonstration(folder);
  const asked = await parsedFile<AskedQuestion[]>(
    join(folder, "questions.json"),
  );
  const names = Object.keys(bench);
  return {
    bench,
    known: knownOf(bench),
    questions: askQuestions(asked ?? []),
    note: `Handout with ${
      names.length === 0 ? "no captures" : names.join(", ")
    }.`,
    capture: (name) => {
      const { file, reading } = entryOf(bench, name);
      return readCapture(join(folder, file), reading);
    },
  };
}

/** Captures that nobody got, for the assignment itself. */
function demonstration(folder: string): HandedOut {
  const set = makeStudentSet(new Uint8Array(32));
  const bench = Object.fromEntries(set.map(({ entry }) => {
    const { name, file, what, reading, known } = entry;
    return [name, { file, what, reading, known }];
  }));
  askQuestions([]);
  return {
    bench,
    known: knownOf(bench),
    questions: [],
    note:
      `There is no handout in '${folder}': these are captures of nobody, simulated to try the notebook out. Students get their own with 'deno task handout'.`,
    capture: (name) => {
      const { reading, file } = entryOf(bench, name);
      const { bytes } = set.find(({ entry }) => entry.name === name)!;
      return readCapture(bytes, { ...reading, fileName: file });
    },
  };
}

function knownOf(bench: HandedOut["bench"]): HandedOut["known"] {
  return Object.entries(bench).flatMap(([capture, { known }]) =>
    Object.entries(known).map(([quantity, each]) => ({
      capture,
      quantity,
      value: each.value,
      "standard uncertainty": each.standardUncertainty,
      unit: each.unit,
      from: each.what,
    }))
  );
}

function entryOf(
  bench: Readonly<Record<string, HandedOutEntry>>,
  name: string,
): HandedOutEntry {
  requireText(name, "name", "read a capture of the handout");
  if (Object.hasOwn(bench, name)) return bench[name]!;
  const names = Object.keys(bench);
  const near = nearestName(name, names);
  throw new RangeError(
    `Cannot find the capture '${name}' in the handout${
      near === null ? "" : `: did you mean '${near}'?`
    } There are ${names.join(", ") || "none"}`,
  );
}

async function parsedFile<T>(path: string): Promise<T | null> {
  let text: string;
  try {
    text = await Deno.readTextFile(path);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
  try {
    return JSON.parse(text);
  } catch {
    throw new SyntaxError(
      `Cannot open the handout as '${path}' is damaged: copy it anew from what was handed out`,
    );
  }
}
