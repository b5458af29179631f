import { readTextUpTo } from "../runtime/mod.ts";
import { parseMeasure, splitHeading, tableRows } from "../units/mod.ts";

/** Largest list that is read, in bytes. */
const largestList = 2 ** 24;

/** One reading of a calibration: a capture at a known distance. */
export interface ReferenceReading {
  /** File of the capture, as written in the list. */
  readonly file: string;
  /** Known distance, in m. */
  readonly distance: number;
  /** Its standard uncertainty, in m. */
  readonly standardUncertainty: number;
}

const columns = ["file", "distance", "standard uncertainty"] as const;

/**
 * Reads the list of a calibration's readings: a text with the columns `file`,
 * `distance` and `standard uncertainty`, the last two with their unit, such as
 * `distance (mm)`. Fields are parted by commas, semicolons or tabs; with the
 * latter two, a decimal comma is read too.
 *
 * @param path Path of the list.
 * @returns The readings in order, distances in m.
 * @throws {SyntaxError} If a column, a unit or a number is missing; the message
 * says which line.
 *
 * @example
 * ```ts
 * import { readReferenceReadings } from "fringebook";
 * import { expect } from "vitest";
 *
 * const path = await Deno.makeTempFile();
 * await Deno.writeTextFile(
 *   path,
 *   "file;distance (mm);standard uncertainty (mm)\nnear.csv;60,5;0,2\n",
 * );
 * expect(await readReferenceReadings(path)).toEqual([
 *   { file: "near.csv", distance: 0.0605, standardUncertainty: 0.0002 },
 * ]);
 * ```
 */
export async function readReferenceReadings(
  path: string,
): Promise<ReferenceReading[]> {
  const text = await readTextUpTo(path, largestList);
  const refuse = (why: string) =>
    new SyntaxError(`Cannot read the readings in '${path}' as ${why}`);
  const [heads = [], ...rows] = tableRows(text, refuse);
  const found = columns.map((column) => {
    const index = heads.findIndex((head) => nameOf(head) === column);
    if (index >= 0) return index;
    throw refuse(
      `there is no column '${column}': they are ${
        heads.map((head) => `'${head}'`).join(", ") || "none"
      }. Make them 'file', 'distance (mm)', 'standard uncertainty (mm)'`,
    );
  });
  const factors = found.map((index) => factorOf(heads[index]!));
  const [, byDistance, byUncertainty] = factors;
  if (byDistance === null || byUncertainty === null) {
    throw refuse(
      `the columns of distances name no unit of length: write 'distance (mm)' and 'standard uncertainty (mm)'`,
    );
  }
  if (rows.length === 0) throw refuse("it has no reading below its heads");
  return rows.map((row, index) => {
    const [file = "", distance, uncertainty] = found.map((at) => row[at] ?? "");
    const line = index + 2;
    const inMetres = (what: string, given: string, factor: number) => {
      const number = parseMeasure(given);
      if (number?.unit === "") return number.value * factor;
      throw refuse(`the ${what} in line ${line} is no number: '${given}'`);
    };
    if (file === "") throw refuse(`line ${line} names no file`);
    return {
      file,
      distance: inMetres("distance", distance!, byDistance!),
      standardUncertainty: inMetres(
        "standard uncertainty",
        uncertainty!,
        byUncertainty!,
      ),
    };
  });
}

function nameOf(head: string): string {
  return splitHeading(head).name.trim().toLowerCase();
}

/** Factor from the unit of a head to m; `null` where it is no length. */
function factorOf(head: string): number | null {
  const { unit } = splitHeading(head);
  const known = unit === null ? null : parseMeasure(`1${unit}`);
  return known?.unit === "m" ? known.value : null;
}
