import { CaptureFormatError } from "../../errors/mod.ts";
import type { ByteSource } from "../file/byte_source.ts";
import { place } from "../place.ts";
import type { NumberStyle } from "./field.ts";
import { splitLine, textOf, unquote } from "./lines.ts";
import {
  type HeadLine,
  kindOf,
  type SniffOptions,
  sniffTable,
  type TextDelimiter,
} from "./sniff.ts";
import { TableParser } from "./table_parser.ts";

/** One line that holds all samples of one channel. */
export interface DataRow {
  /** Heading in front of the numbers, units included; `null` if none. */
  readonly heading: string | null;
  readonly samples: Float64Array;
  readonly missingCount: number;
}

/** A file with one line per channel. */
export interface RowTable {
  readonly rows: readonly DataRow[];
  /** Lines above or between the rows. */
  readonly otherLines: readonly HeadLine[];
  readonly delimiter: TextDelimiter;
  readonly style: NumberStyle;
}

/** Most lines a file with one line per channel has. */
const mostLines = 64;
/** Bytes of each line that are looked at. */
const prefixSize = 4096;

/**
 * Recognises a file with one line per channel: few lines, each of many numbers
 * behind at most three words, and no line of names above.
 *
 * @returns The rows, or `null` if the file is not laid out like that.
 */
export function readRows(
  source: ByteSource,
  start: number,
  options: SniffOptions,
  forced: boolean,
  fileName: string | null,
): RowTable | null {
  const lines = lineStarts(source, start);
  if (lines === null) {
    if (!forced) return null;
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } by rows as it has more than ${mostLines} lines`,
      { fileName },
    );
  }
  const heads = lines.map(({ offset, end }, index): HeadLine => {
    const bytes = source.read(offset, Math.min(end - offset, prefixSize));
    let { text } = textOf(bytes);
    text = text.replace(/\r$/, "");
    return { text, number: index + 1, offset };
  });
  const delimiters: readonly TextDelimiter[] = options.delimiter
    ? [options.delimiter]
    : ["\t", ";", ",", "|", " "];
  for (const delimiter of delimiters) {
    const found = heads.map((head, index) =>
      rowStart(head.text, delimiter, lines[index]!.end - lines[index]!.offset)
    );
    const wide = found.flatMap((row, index) => row === null ? [] : [index]);
    if (wide.length === 0) continue;
    if (!forced) {
      const counts = wide.map((index) =>
        countFields(source, lines[index]!, delimiter)
      );
      const fewest = Math.min(...counts);
      const most = Math.max(...counts);
      const named = heads.some((head, index) =>
        found[index] === null && isNames(head.text, delimiter, fewest)
      );
      if (fewest < 16 || fewest <= 4 * wide.length || most > fewest + 4) {
        continue;
      }
      if (named) continue;
    }
    return parseRows(
      source,
      wide.map((index) => ({ ...lines[index]!, number: index + 1 })),
      wide.map((index) => found[index]!),
      heads.filter((_, index) => found[index] === null),
      delimiter,
      options,
      fileName,
    );
  }
  return null;
}

interface LineSpan {
  readonly offset: number;
  readonly end: number;
}

function lineStarts(source: ByteSource, start: number): LineSpan[] | null {
  const lines: LineSpan[] = [];
  const step = 1 << 20;
  let offset = start;
  for (let at = start; at < source.size; at += step) {
    const bytes = source.read(at, step);
    let from = 0;
    for (;;) {
      const newline = bytes.indexOf(10, from);
      if (newline < 0) break;
      lines.push({ offset, end: at + newline });
      if (lines.length > mostLines) return null;
      offset = at + newline + 1;
      from = newline + 1;
    }
  }
  if (offset < source.size) lines.push({ offset, end: source.size });
  return lines.length > mostLines ? null : lines;
}

/** Heading of a line of numbers, or `null` if it is no such line. */
function rowStart(
  text: string,
  delimiter: TextDelimiter,
  length: number,
): { heading: string | null; words: number } | null {
  const cells = splitLine(text, delimiter).map(unquote);
  if (length > prefixSize) cells.pop();
  while (cells.at(-1) === "") cells.pop();
  const kinds = cells.map((cell) => kindOf(cell, []));
  const words = kinds.findIndex((kind) => kind === "number");
  if (words < 0 || words > 3 || kinds.length - words < 8) return null;
  if (
    !kinds.slice(words).every((kind) => kind === "number" || kind === "empty")
  ) {
    return null;
  }
  const label = cells.slice(0, words).filter((cell) => cell !== "");
  const [name, unit] = label;
  return {
    heading: name === undefined
      ? null
      : unit === undefined
      ? name
      : `${name} (${unit.replace(/[()[\]]/g, "")})`,
    words,
  };
}

function isNames(
  text: string,
  delimiter: TextDelimiter,
  count: number,
): boolean {
  const cells = splitLine(text, delimiter).map(unquote);
  return Math.abs(cells.length - count) <= 1 &&
    cells.every((cell) => kindOf(cell, []) !== "number");
}

function countFields(
  source: ByteSource,
  line: LineSpan,
  delimiter: TextDelimiter,
): number {
  const code = delimiter.charCodeAt(0);
  const bytes = source.read(line.offset, line.end - line.offset);
  let count = 1;
  let inRun = false;
  for (const byte of bytes) {
    if (byte !== code) inRun = false;
    else if (!inRun) {
      count++;
      inRun = delimiter === " ";
    }
  }
  return count;
}

function parseRows(
  source: ByteSource,
  lines: readonly (LineSpan & { number: number })[],
  starts: readonly { heading: string | null; words: number }[],
  otherLines: readonly HeadLine[],
  delimiter: TextDelimiter,
  options: SniffOptions,
  fileName: string | null,
): RowTable {
  const code = delimiter.charCodeAt(0);
  let style: NumberStyle | null = null;
  const rows: DataRow[] = [];
  lines.forEach((line, index) => {
    // Cells become lines of their own for the table parser.
    const bytes = new Uint8Array(line.end - line.offset + 1);
    bytes.set(source.read(line.offset, line.end - line.offset));
    bytes[bytes.length - 1] = 10;
    const { words, heading } = starts[index]!;
    let start = 0;
    for (let word = 0; word < words; word++) {
      start = bytes.indexOf(code, start) + 1;
      while (delimiter === " " && bytes[start] === code) start++;
    }
    let end = bytes.length;
    while (
      end - 2 >= start && [code, 13, 32, 9].includes(bytes[end - 2]!)
    ) end--;
    bytes[end - 1] = 10;
    for (let at = start; at < end; at++) {
      if (bytes[at] === code) bytes[at] = 10;
    }
    if (style === null) {
      const text = textOf(bytes.subarray(start, Math.min(end, start + 65536)))
        .text;
      const cells = text.split("\n").slice(0, 4000);
      if (end > start + 65536) cells.pop();
      style = sniffTable(
        cells.map((cell, at) => ({ text: cell, number: at + 1, offset: 0 })),
        { ...options, delimiter: delimiter === ";" ? "|" : ";" },
        fileName,
      );
    }
    const parser = new TableParser(
      {
        ...style,
        delimiter: 0,
        fieldCount: 1,
        skipped: new Set(),
        mustBeEmpty: new Set(),
        clockField: -1,
        comments: [],
        emptyIsMissing: true,
      },
      1,
      fileName,
      end - start >> 2,
    );
    try {
      parser.parse(bytes, start, end);
    } catch (error) {
      if (!(error instanceof CaptureFormatError)) throw error;
      throw new CaptureFormatError(
        error.message.replace(
          /line (\d+)/,
          (_, field) => `line ${line.number}, field ${Number(field) + words}`,
        ).replace("field 1 is", "it is"),
        { fileName, line: line.number },
      );
    }
    rows.push({
      heading,
      samples: parser.columns[0]!.slice(0, parser.rowCount),
      missingCount: parser.missingCount,
    });
  });
  const longest = Math.max(...rows.map(({ samples }) => samples.length));
  const shortest = Math.min(...rows.map(({ samples }) => samples.length));
  if (longest !== shortest) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as its lines hold ${shortest} to ${longest} numbers: each channel needs as many`,
      { fileName },
    );
  }
  return { rows, otherLines, delimiter, style: style! };
}
