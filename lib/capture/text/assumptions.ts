import type { ReadingAssumption } from "../file/opened_file.ts";
import type { TextHeader } from "./header.ts";
import type { SniffedTable } from "./sniff.ts";
import type { TimeColumn } from "./time_column.ts";

/** The delimiter in words. */
export function delimiterName(delimiter: string): string {
  return ({
    ",": "comma",
    ";": "semicolon",
    "\t": "tab",
    "|": "bar",
    " ": "space",
  })[delimiter] ?? delimiter;
}

/** What was decided about a table, why, and how to override it. */
export function tableAssumptions(
  table: SniffedTable,
  header: TextHeader,
  time: TimeColumn,
): ReadingAssumption[] {
  const named = (at: number) =>
    `column ${at + 1}${
      header.names[at] === null || header.names[at] === undefined
        ? ""
        : ` '${header.names[at]}'`
    }`;
  return [
    {
      what: "delimiter",
      value: table.fieldCount === 1
        ? "none: one column"
        : delimiterName(table.delimiter),
      because:
        `${table.dataLineCount} of the first lines split into ${table.fieldCount} ${
          table.fieldCount === 1 ? "field" : "fields"
        } of numbers`,
      option: "delimiter",
    },
    {
      what: "decimal mark",
      value: table.decimalMark === "," ? "comma" : "point",
      because: "of how the first numbers are written",
      option: "decimalMark",
    },
    {
      what: "thousands separator",
      value: table.thousandsMark === "" ? "none" : `'${table.thousandsMark}'`,
      because: "of how the first numbers are written",
      option: "thousandsMark",
    },
    {
      what: "first row of numbers",
      value: `line ${table.dataLine + 1}`,
      because: "the lines above are not rows of numbers",
      option: "",
    },
    {
      what: "orientation",
      value: "one line per sample",
      because: "the lines have few fields",
      option: "orientation",
    },
    {
      what: "time",
      value: time.time >= 0 ? named(time.time) : "no column",
      because: time.because,
      option: "timeColumn",
    },
    ...(time.record < 0 ? [] : [{
      what: "records",
      value: named(time.record),
      because: "its name says that it numbers records",
      option: "record",
    }]),
  ];
}
