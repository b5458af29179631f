import type { OpenedText } from "./open_text.ts";
import type { ParsedText } from "./parse_text.ts";

/** Rows of one record: from `start` up to but without `end`. */
export interface RecordRows {
  readonly start: number;
  readonly end: number;
}

/** Fewest rows of a record told by time or blank lines alone. */
const fewestRows = 4;

/**
 * Finds the records of a file: where the heading comes again, where a record
 * column changes, at blank lines, or where time jumps back to its start.
 */
export function findRecords(
  parsed: ParsedText,
  opened: OpenedText,
): RecordRows[] {
  const { rowCount, columns } = parsed;
  const whole = [{ start: 0, end: rowCount }];
  const cut = (starts: readonly number[]): RecordRows[] => {
    const edges = [...new Set([0, ...starts])].filter((at) => at < rowCount)
      .sort((a, b) => a - b);
    return edges.map((start, index) => ({
      start,
      end: edges[index + 1] ?? rowCount,
    }));
  };
  if (parsed.recordStarts.length > 0) return cut(parsed.recordStarts);
  if (opened.time.record >= 0) {
    const column = columns[opened.time.record]!;
    const starts: number[] = [];
    for (let row = 1; row < rowCount; row++) {
      if (column[row] !== column[row - 1]) starts.push(row);
    }
    if (starts.length <= rowCount / fewestRows) return cut(starts);
  }
  const { blanks } = parsed;
  if (blanks.length > 0) {
    const records = cut(blanks);
    if (records.every(({ start, end }) => end - start >= fewestRows)) {
      return records;
    }
  }
  if (opened.time.time >= 0) {
    const times = columns[opened.time.time]!;
    const starts: number[] = [];
    const first = times[0]!;
    for (let row = 1; row < rowCount; row++) {
      const before = times[row - 1]!;
      const now = times[row]!;
      // Back to the first tenth of the record: a new one, not a disorder.
      if (now < before && now - first < 0.1 * (before - first)) {
        starts.push(row);
      }
    }
    const records = cut(starts);
    if (
      starts.length > 0 &&
      records.every(({ start, end }) => end - start >= fewestRows)
    ) return records;
  }
  return whole;
}
