import { warn, type Warning } from "../../result/mod.ts";
import { shorten } from "../place.ts";
import { isNamesLine, isValuesLine } from "./header.ts";
import { splitLine, unquote } from "./lines.ts";
import { type HeadLine, kindOf, type SniffedTable } from "./sniff.ts";

/** Lines named in the warning. */
const mostNamed = 3;

/** Rows that cannot be read, between the heading and the first that can. */
export interface LeftOutRows {
  /** The lines of the head without them. */
  readonly lines: readonly HeadLine[];
  /** How many there are. */
  readonly count: number;
  readonly warnings: readonly Warning[];
}

/**
 * Finds lines right above the first row of numbers that begin with a number as
 * rows do, but hold text or another number of fields: not part of the heading,
 * whose names and units stand above them.
 */
export function leftOutRows(
  head: readonly HeadLine[],
  table: SniffedTable,
): LeftOutRows {
  const none = { lines: head, count: 0, warnings: [] };
  const { delimiter, dataLine, fieldCount, missing } = table;
  if (fieldCount < 2) return none;
  const cellsOf = (at: number) =>
    splitLine(head[at]?.text ?? "", delimiter).map(unquote);
  const beginsLikeARow = (at: number) => {
    const kind = kindOf(cellsOf(at)[0] ?? "", missing);
    return kind === "number" || kind === "clock";
  };
  let first = dataLine;
  while (first > 0 && beginsLikeARow(first - 1)) first--;
  if (first === dataLine) return none;
  const above = first > 0 ? cellsOf(first - 1) : [];
  const named = first > 0 && above.length > 1 &&
    isNamesLine(above, head[first - 1]!.text);
  // Names with a value for some of them, such as the increment of time.
  if (
    named && dataLine - first === 1 &&
    isValuesLine(
      cellsOf(first),
      above,
      head[first - 1]!.text,
      above.length,
    )
  ) return none;
  const alike = cellsOf(first).length === fieldCount;
  if (!named && !(first === 0 && alike)) return none;
  const rows = head.slice(first, dataLine);
  const shown = rows.slice(0, mostNamed)
    .map(({ text, number }) => `line ${number}, '${shorten(text.trim())}'`);
  return {
    lines: [...head.slice(0, first), ...head.slice(dataLine)],
    count: rows.length,
    warnings: [warn(
      "rows-left-out",
      `${rows.length} ${
        rows.length === 1 ? "row" : "rows"
      } above the first that can be read as numbers ${
        rows.length === 1 ? "was" : "were"
      } left out: ${shown.join("; ")}${
        rows.length > mostNamed ? "; …" : ""
      }. Name a text that stands for a missing value in 'missing'`,
    )],
  };
}
