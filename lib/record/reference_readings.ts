import { readTextUpTo } from "../runtime/mod.ts";
import { parseMeasure, splitHeading, tableRows } from "../units/mod.ts";

/** Largest list that is read, in bytes. */
const largestList = 2 ** 24;

/**
 * Steps that a person counted on a screen, on one flank of the ramp: the number
 * with its uncertainty, or the edges with the currents at the first and the last.
 */
export type CountedReading =
  | {
    /** Steps on the whole flank (1). */
    readonly steps: number;
    /** Its standard uncertainty (1); `null` for that of a whole count. */
    readonly standardUncertainty: number | null;
  }
  | {
    /** Steep edges seen, the first and the last among them. */
    readonly edges: number;
    /** Current at the first, in A. */
    readonly first: number;
    /** Current at the last, in A. */
    readonly last: number;
    /** Standard uncertainty of each of the two, in A; 0 where not stated. */
    readonly standardUncertainty: number;
  };

/** One reading of a calibration: a capture or a count at a known distance. */
export interface ReferenceReading {
  /** File of the capture, as written in the list; `null` where it was counted. */
  readonly file: string | null;
  /** What was counted by hand; `null` where there is a capture. */
  readonly counted: CountedReading | null;
  /** Known distance, in m. */
  readonly distance: number;
  /** Its standard uncertainty, in m. */
  readonly standardUncertainty: number;
}

/** Columns by what stands below them. */
const columns = {
  "file": null,
  "distance": "m",
  "standard uncertainty": "m",
  "steps": "",
  "standard uncertainty of steps": "",
  "edges": "",
  "first": "A",
  "last": "A",
  "standard uncertainty of current": "A",
} as const;
type Column = keyof typeof columns;

/**
 * Reads the list of a calibration's readings: a text with a column `file`, and
 * `distance` and `standard uncertainty` with their unit, such as `distance (mm)`.
 * In place of a file a line may hold what was counted by hand on a screen, in the
 * columns `steps` and, where it is known, `standard uncertainty of steps`; or in
 * `edges`, `first (mA)`, `last (mA)` and `standard uncertainty of current (mA)`.
 * Fields are parted by commas, semicolons or tabs; with the latter two, a decimal
 * comma is read too.
 *
 * @param path Path of the list.
 * @returns The readings in order, distances in m, currents in A.
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
 *   {
 *     file: "near.csv",
 *     counted: null,
 *     distance: 0.0605,
 *     standardUncertainty: 0.0002,
 *   },
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
  const places = placesOf(heads, refuse);
  const factors = factorsOf(places, heads, refuse);
  if (rows.length === 0) throw refuse("it has no reading below its heads");
  return rows.map((row, index): ReferenceReading => {
    const line = index + 2;
    const given = (column: Column) => row[places.get(column) ?? NaN] ?? "";
    const number = (column: Column) => {
      const parsed = parseMeasure(given(column));
      if (parsed?.unit === "") return parsed.value * factors.get(column)!;
      throw refuse(
        `the ${column} in line ${line} is no number: '${given(column)}'`,
      );
    };
    const counted = countedIn(given, number, () =>
      refuse(
        `line ${line} holds both 'steps' and 'edges': count the whole flank or from edge to edge`,
      ));
    const file = given("file");
    if (file === "" && counted === null) {
      throw refuse(
        `line ${line} names no file${
          places.has("steps") || places.has("edges") ? " and no count" : ""
        }`,
      );
    }
    if (file !== "" && counted !== null) {
      throw refuse(
        `line ${line} holds a file and a count: keep one of them, as the steps of '${file}' are counted anew`,
      );
    }
    return {
      file: file === "" ? null : file,
      counted,
      distance: number("distance"),
      standardUncertainty: number("standard uncertainty"),
    };
  });
}

/** What a line says was counted; `null` where it says nothing. */
function countedIn(
  given: (column: Column) => string,
  number: (column: Column) => number,
  both: () => SyntaxError,
): CountedReading | null {
  const [steps, edges] = [given("steps") !== "", given("edges") !== ""];
  if (steps && edges) throw both();
  const orElse = (column: Column, other: number | null) =>
    given(column) === "" ? other : number(column);
  if (steps) {
    return {
      steps: number("steps"),
      standardUncertainty: orElse("standard uncertainty of steps", null),
    };
  }
  if (!edges) return null;
  return {
    edges: number("edges"),
    first: number("first"),
    last: number("last"),
    standardUncertainty: orElse("standard uncertainty of current", 0)!,
  };
}

/** Where the columns stand; those that every list has are there. */
function placesOf(
  heads: readonly string[],
  refuse: (why: string) => SyntaxError,
): Map<Column, number> {
  const places = new Map<Column, number>();
  for (const column of Object.keys(columns) as Column[]) {
    const index = heads.findIndex((head) => nameOf(head) === column);
    if (index >= 0) places.set(column, index);
  }
  const isCounted = places.has("steps") || places.has("edges");
  const needed: Column[] = [
    ...(isCounted ? [] : ["file"] as const),
    "distance",
    "standard uncertainty",
    ...(places.has("edges") ? ["first", "last"] as const : []),
  ];
  for (const column of needed) {
    if (places.has(column)) continue;
    throw refuse(
      `there is no column '${column}': they are ${
        heads.map((head) => `'${head}'`).join(", ") || "none"
      }. Make them 'file', 'distance (mm)', 'standard uncertainty (mm)'; of counts by hand 'steps', or 'edges', 'first (mA)', 'last (mA)' in place of 'file'`,
    );
  }
  return places;
}

/** Factors from the units of the heads to SI. */
function factorsOf(
  places: ReadonlyMap<Column, number>,
  heads: readonly string[],
  refuse: (why: string) => SyntaxError,
): Map<Column, number> {
  const factors = new Map<Column, number>();
  for (const [column, index] of places) {
    const wanted = columns[column];
    if (wanted === null) continue;
    const { unit } = splitHeading(heads[index]!);
    const known = unit === null ? null : parseMeasure(`1${unit}`);
    if (wanted === "") {
      if (unit !== null && unit !== "1") {
        throw refuse(
          `the column '${heads[index]}' has a unit, while it is a number`,
        );
      }
      factors.set(column, 1);
    } else if (known?.unit === wanted) factors.set(column, known.value);
    else if (wanted === "m") {
      throw refuse(
        `the columns of distances name no unit of length: write 'distance (mm)' and 'standard uncertainty (mm)'`,
      );
    } else {
      throw refuse(
        `the column '${
          heads[index]
        }' names no unit of current: write '${column} (mA)'`,
      );
    }
  }
  return factors;
}

function nameOf(head: string): string {
  return splitHeading(head).name.trim().toLowerCase();
}
