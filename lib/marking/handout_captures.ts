import type { ReadCaptureOptions } from "../capture/mod.ts";
import { makeStudentSet, type ManifestValue } from "../datasets/mod.ts";
import { nearestName } from "../options/mod.ts";
import type { CaptureValues } from "./questions/mod.ts";

/** A capture to hand out. */
export interface HandoutCapture {
  /** Name by which notebook and questions know it. */
  readonly name: string;
  /** File name in the folder `data` of a handout. */
  readonly file: string;
  readonly bytes: Uint8Array;
  /** What was recorded, one sentence. */
  readonly what: string;
  /** Options for `readCapture`. */
  readonly reading: ReadCaptureOptions;
  /** What is known at the bench; goes to the student. */
  readonly known: Readonly<Record<string, ManifestValue>>;
  /** What is true or accepted; stays with the teacher. */
  readonly truth: CaptureValues["truth"];
}

/** Makes the captures of a student: the secret key, the place in the class. */
export type MakeCaptures = (
  key: Uint8Array,
  index: number,
) => readonly HandoutCapture[];

/**
 * Captures that are simulated for a student alone.
 *
 * @param key 32 secret bytes.
 * @param wanted Names of the captures; all where empty.
 * @returns The captures.
 * @throws {RangeError} If a name is not among them.
 */
export function simulatedCaptures(
  key: Uint8Array,
  wanted: readonly string[] = [],
): HandoutCapture[] {
  const made = makeStudentSet(key).map(({ bytes, entry }) => ({
    name: entry.name,
    file: entry.file,
    bytes,
    what: entry.what,
    reading: entry.reading,
    known: entry.known,
    truth: Object.fromEntries(
      Object.entries(entry.truth).map(([name, { value }]) => [
        name,
        { value, expandedUncertainty: 0 },
      ]),
    ),
  }));
  const names = made.map(({ name }) => name);
  const odd = wanted.find((name) => !names.includes(name));
  if (odd !== undefined) {
    const near = nearestName(odd, names);
    throw new RangeError(
      `Cannot simulate '${odd}'${
        near === null ? "." : `: '${near}' was meant?`
      } There are ${names.join(", ")}`,
    );
  }
  return wanted.length === 0
    ? made
    : made.filter(({ name }) => wanted.includes(name));
}
