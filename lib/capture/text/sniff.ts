import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import { parseClock } from "./clock.ts";
import {
  defaultMissing,
  isMissing,
  type NumberStyle,
  parseField,
} from "./field.ts";
import { splitLine, unquote } from "./lines.ts";
import { place } from "../place.ts";

/** Delimiters that are recognised. */
export type TextDelimiter = "," | ";" | "\t" | "|" | " ";

/** One line of the head of a file. */
export interface HeadLine {
  /** Text without line end. */
  readonly text: string;
  /** Line number, counted from 1. */
  readonly number: number;
  /** Byte offset of the line in the file. */
  readonly offset: number;
}

/** What the caller fixed; `undefined` is found out. */
export interface SniffOptions {
  delimiter?: TextDelimiter | undefined;
  decimalMark?: "." | "," | undefined;
  thousandsMark?: NumberStyle["thousandsMark"] | undefined;
  missing?: readonly string[] | undefined;
}

/** What the head of a text file looks like. */
export interface SniffedTable extends NumberStyle {
  readonly delimiter: TextDelimiter;
  readonly fieldCount: number;
  /** First line of numbers, as an index into the head's lines. */
  readonly dataLine: number;
  /** Kind of each field in the lines of numbers. */
  readonly fieldKinds: readonly FieldKind[];
  /** Lines of the head taken for data. */
  readonly dataLineCount: number;
  readonly warnings: readonly Warning[];
}

/**
 * What a field holds; `"aside"` is one that is empty in most rows and holds
 * remarks beside the first ones.
 */
export type FieldKind = "number" | "clock" | "empty" | "text" | "aside";

const delimiters: readonly TextDelimiter[] = ["\t", ";", ",", "|", " "];

/** A number in any style: groups of three, then one decimal mark. */
const anyNumber =
  /^[-+\u2212]?(?:\d+|\d{1,3}(?:[,.' \u00a0\u202f\u2019]\d{3})+)?(?:[.,]\d*)?(?:[eEdD][-+]?\d+)?$/;

/** What one field holds. */
export function kindOf(field: string, missing: readonly string[]): FieldKind {
  const text = unquote(field);
  if (text === "") return "empty";
  if (/\d/.test(text) && text.length < 64) {
    if (anyNumber.test(text)) return "number";
    if (parseClock(text) !== undefined) return "clock";
  }
  return isMissing(text, missing) ? "empty" : "text";
}

interface Candidate {
  delimiter: TextDelimiter;
  dataLine: number;
  dataLineCount: number;
  fieldCount: number;
  numberCount: number;
  kinds: FieldKind[];
}

/**
 * Finds delimiter, marks, field count and the first line of numbers.
 *
 * @param lines Lines of the head.
 * @param options What the caller fixed.
 * @param fileName Name for messages.
 * @returns What the file looks like.
 * @throws {CaptureFormatError} If no line of numbers is found.
 */
export function sniffTable(
  lines: readonly HeadLine[],
  options: SniffOptions,
  fileName: string | null,
): SniffedTable {
  const missing = (options.missing ?? []).map((text) => text.toLowerCase())
    .concat(defaultMissing);
  const tried = options.delimiter ? [options.delimiter] : delimiters;
  const withTexts = (texts: boolean) =>
    tried.map((delimiter) => tryDelimiter(lines, delimiter, missing, texts))
      .filter((candidate) => candidate !== null);
  let candidates = withTexts(false);
  if (candidates.length === 0) candidates = withTexts(true);
  let best: Candidate | null = null;
  for (const candidate of candidates) {
    if (
      best === null ||
      candidate.numberCount * candidate.dataLineCount >
        best.numberCount * best.dataLineCount
    ) best = candidate;
  }
  // Between tabs, a space within numbers separates thousands.
  const tabbed = candidates.find(({ delimiter }) => delimiter === "\t");
  if (
    best?.delimiter === " " && tabbed !== undefined &&
    tabbed.fieldCount > 1 && tabbed.dataLineCount >= best.dataLineCount
  ) best = tabbed;
  if (best === null) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as text: none of its first ${lines.length} lines is a row of numbers with a known delimiter (comma, semicolon, tab, space). Check the file, or give 'delimiter' and 'decimalMark'`,
      { fileName, line: lines[0]?.number ?? null },
    );
  }
  const marks = findMarks(lines, best, options);
  const decided = marks.delimiter === best.delimiter
    ? best
    : tryDelimiter(lines, marks.delimiter, missing, false) ?? best;
  return {
    delimiter: decided.delimiter,
    fieldCount: decided.fieldCount,
    dataLine: decided.dataLine,
    dataLineCount: decided.dataLineCount,
    fieldKinds: decided.kinds,
    decimalMark: marks.decimalMark,
    thousandsMark: marks.thousandsMark,
    missing,
    warnings: marks.warnings,
  };
}

function isComment(text: string): boolean {
  return /^\s*(#|%|\/\/|!)/.test(text);
}

function tryDelimiter(
  lines: readonly HeadLine[],
  delimiter: TextDelimiter,
  missing: readonly string[],
  textsAllowed: boolean,
): Candidate | null {
  const rows = lines.map(({ text }) =>
    text.trim() === "" || isComment(text)
      ? null
      : splitLine(text, delimiter).map((field) => kindOf(field, missing))
  );
  const isData = (kinds: FieldKind[]) =>
    kinds.some((kind) => kind === "number") &&
    (textsAllowed
      ? kinds.filter((kind) => kind === "text").length * 2 <= kinds.length
      : kinds.every((kind) => kind !== "text"));
  // Lines with as many fields belong together, also across a damaged line,
  // which is then the parser's to name.
  const groups = new Map<number, Candidate>();
  rows.forEach((kinds, index) => {
    if (kinds === null || !isData(kinds)) return;
    const group = groups.get(kinds.length);
    if (group === undefined) {
      groups.set(kinds.length, {
        delimiter,
        dataLine: index,
        dataLineCount: 1,
        fieldCount: kinds.length,
        numberCount: 0,
        kinds: kinds.slice(),
      });
      return;
    }
    group.dataLineCount++;
    kinds.forEach((kind, field) => {
      if (
        group.kinds[field] === "empty" || kind === "clock" || kind === "text"
      ) group.kinds[field] = kind;
    });
  });
  let best: Candidate | null = null;
  for (const group of groups.values()) {
    group.numberCount = group.kinds.filter((kind) =>
      kind === "number" || kind === "clock"
    ).length;
    if (
      best === null ||
      group.dataLineCount * group.numberCount >
        best.dataLineCount * best.numberCount
    ) best = group;
  }
  if (best === null || (textsAllowed && best.dataLineCount < 2)) return null;
  takeRemarksAside(best, rows);
  // A last column that stays empty and has no name comes of a trailing
  // delimiter and is no field.
  if (best.kinds.at(-1) === "empty" && best.fieldCount > 1) {
    const above = lines.slice(0, best.dataLine).findLast(({ text }) =>
      text.trim() !== ""
    );
    const cells = splitLine(above?.text ?? "", delimiter);
    if (cells.length !== best.fieldCount || cells.at(-1) === "") {
      best.fieldCount--;
      best.kinds.pop();
    }
  }
  return best;
}

/** Moves the first row up over rows that have remarks in otherwise empty fields. */
function takeRemarksAside(
  best: Candidate,
  rows: readonly (FieldKind[] | null)[],
): void {
  const { kinds, fieldCount } = best;
  let found = false;
  for (let index = best.dataLine - 1; index >= 0; index--) {
    const row = rows[index];
    if (row === null || row === undefined || row.length !== fieldCount) break;
    const numbers = kinds.every((kind, field) =>
      kind === "empty" || row[field] === "number" || row[field] === "empty" ||
      row[field] === "clock"
    );
    const any = kinds.some((kind, field) =>
      kind !== "empty" && row[field] === "number"
    );
    if (!numbers || !any) break;
    best.dataLine = index;
    best.dataLineCount++;
    found = true;
  }
  if (!found) return;
  best.kinds = kinds.map((kind) => kind === "empty" ? "aside" : kind);
}

function findMarks(
  lines: readonly HeadLine[],
  candidate: Candidate,
  options: SniffOptions,
): {
  delimiter: TextDelimiter;
  decimalMark: "." | ",";
  thousandsMark: NumberStyle["thousandsMark"];
  warnings: Warning[];
} {
  const { delimiter, dataLine } = candidate;
  const fields = lines.slice(dataLine)
    .flatMap(({ text }) => isComment(text) ? [] : splitLine(text, delimiter))
    .map(unquote)
    .filter((field) => anyNumber.test(field) && field !== "");
  const warnings: Warning[] = [];
  const has = (pattern: RegExp) => fields.some((field) => pattern.test(field));
  const header = lines.slice(0, dataLine).filter(({ text }) =>
    text.trim() !== ""
  ).at(-1);
  const integersOnly = delimiter === "," &&
    fields.every((field) => /^[-+]?\d+([eE][-+]?\d+)?$/.test(field));
  if (
    integersOnly && options.delimiter === undefined &&
    options.decimalMark === undefined && candidate.fieldCount === 2
  ) {
    const oneName = header !== undefined && !isComment(header.text) &&
      splitLine(header.text, ",").length === 1 &&
      !/[:=]/.test(header.text);
    const zeros = lines.slice(dataLine).some(({ text }) =>
      /,\s*0\d/.test(text)
    );
    if (oneName || zeros) {
      return { delimiter: ";", decimalMark: ",", thousandsMark: "", warnings };
    }
    const named = header !== undefined &&
      splitLine(header.text, ",").length === 2;
    if (!named) {
      warnings.push(warn(
        "comma-ambiguous",
        "The comma was taken for the delimiter of two whole-number columns, not for a decimal comma. If it is a decimal comma, give 'decimalMark: \",\"' and a 'delimiter' other than comma",
      ));
    }
  }
  let decimalMark = options.decimalMark;
  let thousandsMark = options.thousandsMark;
  const both = fields.find((field) => /[.,].*[.,]/.test(field));
  if (decimalMark === undefined) {
    const comma = has(/,/);
    const dot = has(/\./);
    if (comma && dot && both !== undefined) {
      const last = both.lastIndexOf(",") > both.lastIndexOf(".") ? "," : ".";
      const first = /[.,]/.exec(both)![0];
      decimalMark = first === last ? (last === "," ? "." : ",") : last as ".";
    } else if (comma && !dot) {
      if (has(/,\d*,/)) decimalMark = ".";
      else {
        decimalMark = ",";
        if (
          thousandsMark === undefined && !has(/,(?!\d{3}(?:\D|$))/)
        ) {
          warnings.push(warn(
            "comma-ambiguous",
            `The comma in numbers such as '${
              fields.find((field) => field.includes(","))
            }' was taken for a decimal comma, not for a thousands separator. If it separates thousands, give 'thousandsMark: ","' and 'decimalMark: "."'`,
          ));
        }
      }
    } else if (dot && has(/\.\d{3}\.\d{3}/)) decimalMark = ",";
    else decimalMark = ".";
  }
  if (thousandsMark === undefined) {
    const other = decimalMark === "." ? "," : ".";
    thousandsMark = has(other === "," ? /,/ : /\./)
      ? other
      : has(/['\u2019]/)
      ? "'"
      : has(/\d[ \u00a0\u202f]\d/)
      ? " "
      : "";
  }
  return { delimiter, decimalMark, thousandsMark, warnings };
}

/** Numbers of one line, for looking at the first rows. */
export function numbersOf(
  line: string,
  table: SniffedTable,
): (number | undefined)[] {
  return splitLine(line, table.delimiter).map((field, index) =>
    table.fieldKinds[index] === "clock"
      ? parseClock(field)
      : parseField(field, table)
  );
}
