import { place } from "../place.ts";
import { isCounterHeading, isTimeHeading } from "../time_name.ts";
import type { TextHeader } from "./header.ts";
import { type HeadLine, numbersOf, type SniffedTable } from "./sniff.ts";

/** Which columns are not signals; -1 where there is none. */
export interface TimeColumn {
  /** Column of times. */
  readonly time: number;
  /** Column that counts rows. */
  readonly counter: number;
  /** Column that numbers records. */
  readonly record: number;
  /** Why, in plain words. */
  readonly because: string;
}

const recordName =
  /^(segment|record|frame|sweep|trace|waveform)( ?(number|no\.?|nr\.?|index|id))?$/i;

/** Finds the columns of time, row counter and record number. */
export function findTimeColumn(
  table: SniffedTable,
  header: TextHeader,
  head: readonly HeadLine[],
  wanted: string | number | null | undefined,
  fileName: string | null,
): TimeColumn {
  const { fieldKinds, fieldCount } = table;
  const { names, units } = header;
  const record = fieldCount > 1
    ? names.findIndex((name) => name !== null && recordName.test(name.trim()))
    : -1;
  const counter = fieldCount > 1
    ? names.findIndex((name, at) =>
      at !== record && name !== null && isCounterHeading(name)
    )
    : -1;
  if (wanted === null) {
    return { time: -1, counter, record, because: "the caller said so" };
  }
  if (wanted !== undefined) {
    const time = typeof wanted === "number"
      ? wanted
      : names.findIndex((name) => name?.toLowerCase() === wanted.toLowerCase());
    if (!Number.isInteger(time) || time < 0 || time >= fieldCount) {
      throw new RangeError(
        `Cannot use time column '${wanted}' of ${
          place(fileName)
        }: columns are ${
          names.slice(0, 20).map((name, at) =>
            `${at}: '${(name ?? "").slice(0, 60)}'`
          )
            .join(", ")
        }`,
      );
    }
    return { time, counter, record, because: "the caller said so" };
  }
  const clock = fieldKinds.indexOf("clock");
  if (clock >= 0) {
    return { time: clock, counter, record, because: "it holds clock times" };
  }
  const named = names.findIndex((name, at) =>
    fieldKinds[at] === "number" && at !== record &&
    isTimeHeading(name ?? "", units[at] ?? null)
  );
  const valuesOf = (column: number) =>
    head.slice(table.dataLine, table.dataLine + 200)
      .filter(({ text }) => text.trim() !== "")
      .map(({ text }) => numbersOf(text, table)[column] ?? NaN);
  if (
    named >= 0 && /^x\b/i.test(names[named] ?? "") &&
    (units[named] ?? null) === null && header.samplingRate !== null &&
    countsRows(valuesOf(named))
  ) {
    return {
      time: -1,
      counter: named,
      record,
      because: "it only counts rows, and the heading gives the interval",
    };
  }
  if (named >= 0) {
    return { time: named, counter, record, because: "its heading says so" };
  }
  const none = { time: -1, counter, record };
  if (fieldCount < 2 || names.some((name) => name !== null)) {
    return { ...none, because: "no heading speaks of time" };
  }
  // No names: a first column that rises evenly is time, or a row counter.
  const first = fieldKinds.indexOf("number");
  const values = valuesOf(first);
  if (!risesEvenly(values)) {
    return { ...none, because: "the first column does not rise evenly" };
  }
  return countsRows(values)
    ? { ...none, counter: first, because: "the first column only counts rows" }
    : { ...none, time: first, because: "the first column rises evenly" };
}

/** Whether values are whole numbers that rise by one. */
function countsRows(values: readonly number[]): boolean {
  return values.length > 0 &&
    values.every((value, at) =>
      Number.isInteger(value) && (at === 0 || value - values[at - 1]! === 1)
    );
}

/** Whether values rise by nearly equal steps, as times do. */
export function risesEvenly(values: ArrayLike<number>): boolean {
  const count = values.length;
  if (count < 3) return false;
  const step = (values[count - 1]! - values[0]!) / (count - 1);
  if (!(step > 0)) return false;
  for (let at = 1; at < count; at++) {
    const d = values[at]! - values[at - 1]!;
    if (!(Math.abs(d - step) <= 0.5 * step)) return false;
  }
  return true;
}
