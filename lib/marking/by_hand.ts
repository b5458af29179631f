import { parse } from "@std/csv/parse";
import { stringify } from "@std/csv/stringify";
import { nearestName } from "../options/mod.ts";
import type { HandoutKey } from "./handout_key.ts";

/** Points that the teacher gave by hand: student → criterion → points. */
export type PointsByHand = ReadonlyMap<string, ReadonlyMap<string, number>>;

/**
 * An empty table for the points that are given by hand: a row per student, a
 * column per criterion.
 *
 * @param key Students and criteria.
 * @returns CSV (RFC 4180).
 */
export function emptyHandTable(
  { students, criteria }: Pick<HandoutKey, "students" | "criteria">,
): string {
  return stringify([
    ["student", ...criteria.map(({ name }) => name)],
    ...students.map(({ student }) => [student, ...criteria.map(() => "")]),
  ], { crlf: true });
}

/**
 * Reads the table of points by hand; what is left empty was not marked yet.
 * Fields are parted by commas, semicolons or tabs.
 *
 * @param text The table.
 * @param key Students and criteria.
 * @param path Where it stands, for messages.
 * @returns The points.
 * @throws {SyntaxError} If a column or student is not known, or points are none.
 */
export function readHandTable(
  text: string,
  { students, criteria }: Pick<HandoutKey, "students" | "criteria">,
  path: string,
): PointsByHand {
  const fail = (why: string) =>
    new SyntaxError(`Cannot read the points by hand in '${path}' as ${why}`);
  const [first = ""] = text.split("\n");
  const separator = [";", "\t"].find((mark) => first.includes(mark)) ?? ",";
  const [head = [], ...rows] = parse(text.replace(/^\uFEFF/, ""), {
    separator,
    fieldsPerRecord: -1,
  }) as string[][];
  const known = criteria.map(({ name }) => name);
  const columns = head.slice(1).map((name) => name.trim());
  const odd = columns.find((name) => !known.includes(name));
  if (head[0]?.trim() !== "student" || odd !== undefined) {
    throw fail(
      odd === undefined
        ? "its first column is not 'student'"
        : `there is no '${odd}' to mark: there are ${known.join(", ")}`,
    );
  }
  const names = students.map(({ student }) => student);
  const points = new Map<string, Map<string, number>>();
  for (const [index, row] of rows.entries()) {
    const student = (row[0] ?? "").trim();
    if (student === "") continue;
    if (!names.includes(student)) {
      const near = nearestName(student, names);
      throw fail(
        `line ${index + 2} names '${student}', whom the key does not know${
          near === null ? "" : `: '${near}' was meant?`
        }`,
      );
    }
    const own = new Map<string, number>();
    for (const [at, name] of columns.entries()) {
      const given = (row[at + 1] ?? "").trim();
      if (given === "") continue;
      const value = Number(given.replace(",", "."));
      const most = criteria.find((each) => each.name === name)!.points;
      if (!(value >= 0 && value <= most)) {
        throw fail(
          `'${given}' for '${name}' of '${student}' is not from 0 to ${most}`,
        );
      }
      own.set(name, value);
    }
    points.set(student, own);
  }
  return points;
}
