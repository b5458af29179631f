import { encodeHex } from "@std/encoding/hex";
import { writeWhole } from "../files/mod.ts";
import {
  completeQuestion,
  type Criterion,
  type FormulaNames,
  type Question,
} from "./questions/mod.ts";

/** What the teacher keeps of one student. */
export interface StudentKey {
  /** Name as given. */
  readonly student: string;
  /** Folder of the student's handout. */
  readonly folder: string;
  /** True or accepted value of each question that asks for a number, in its unit. */
  readonly truth: Readonly<Record<string, number>>;
  /** U (k = 2) of those that are accepted values; 0 for the others. */
  readonly expandedUncertainty: Readonly<Record<string, number>>;
  /** What the formulas of each question may use. */
  readonly names: Readonly<Record<string, FormulaNames>>;
  /** SHA-256 of each capture handed out, by its file name in `data/`. */
  readonly captures: Readonly<Record<string, string>>;
}

/** What the teacher keeps of a class. */
export interface HandoutKey {
  /** File name of the assignment. */
  readonly notebook: string;
  /** SHA-256 of the text of the notebook that the students got. */
  readonly notebookSha256: string;
  /**
   * Secret of the class, in hex, at least 128 bits: whoever has it has the
   * truth of every student.
   */
  readonly classSeed: string;
  readonly questions: readonly Question[];
  /** What the teacher marks by hand. */
  readonly criteria: readonly Criterion[];
  /** Hashes of the code cells handed out. */
  readonly cells: readonly string[];
  readonly students: readonly StudentKey[];
}

/** A new secret for a class: 256 bits, in hex. */
export function newClassSeed(): string {
  return encodeHex(crypto.getRandomValues(new Uint8Array(32)));
}

/**
 * Checks the secret of a class.
 *
 * @throws {RangeError} If it is not hex, or shorter than 128 bits.
 */
export function checkClassSeed(seed: string): void {
  if (/^(?:[0-9a-f]{2}){16,}$/i.test(seed)) return;
  throw new RangeError(
    "Cannot make a handout as the seed of the class must be at least 32 hex digits (128 bits): a shorter one is found by trying. Leave it out for a new one, or copy 'classSeed' of an earlier key",
  );
}

/** The key of a student's captures: HMAC-SHA-256 of the name (FIPS 198-1). */
export async function deriveCaptureKey(
  classSeed: string,
  student: string,
): Promise<Uint8Array> {
  const text = new TextEncoder();
  const secret = await crypto.subtle.importKey(
    "raw",
    text.encode(classSeed.toLowerCase()),
    { name: "HMAC", hash: "SHA-256" },
    false,
    ["sign"],
  );
  return new Uint8Array(
    await crypto.subtle.sign("HMAC", secret, text.encode(student)),
  );
}

/** Writes the key so that its owner alone can read it. */
export async function writeKey(path: string, key: HandoutKey): Promise<void> {
  await writeWhole(path, JSON.stringify(key, null, 2) + "\n", { mode: 0o600 });
}

/**
 * Reads the teacher's key.
 *
 * @returns The key; `null` where there is no such file.
 * @throws {SyntaxError} If it is no key.
 * @throws {TypeError} If a question of it has no meaning.
 */
export async function readKey(path: string): Promise<HandoutKey | null> {
  let text: string;
  try {
    text = await Deno.readTextFile(path);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
  const fail = (what: string) =>
    new SyntaxError(
      `Cannot read the key '${path}' as ${what}: give the 'key.json' that 'deno task handout' wrote`,
    );
  let key: Partial<HandoutKey>;
  try {
    key = JSON.parse(text);
  } catch (error) {
    throw fail(`it is not JSON (${(error as Error).message})`);
  }
  for (
    const [name, fits] of Object.entries({
      notebook: typeof key?.notebook === "string",
      classSeed: typeof key?.classSeed === "string",
      questions: Array.isArray(key?.questions),
      cells: Array.isArray(key?.cells),
      criteria: Array.isArray(key?.criteria),
      students: Array.isArray(key?.students) &&
        key.students.every((student) => typeof student?.names === "object"),
    })
  ) {
    if (!fits) throw fail(`it has no '${name}'`);
  }
  // A question that has no meaning is found before anything runs
  return {
    ...key as HandoutKey,
    questions: key.questions!.map(completeQuestion),
  };
}
