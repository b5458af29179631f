import { CaptureFormatError } from "../../errors/mod.ts";
import { largePages } from "../../memory/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import { place, shorten } from "../place.ts";
import { parseClock } from "./clock.ts";
import { type NumberStyle, parseField } from "./field.ts";
import { longestNumber, longNumber } from "./long_number.ts";

/** Byte codes the parser looks for. */
const newline = 10;
const carriageReturn = 13;
const space = 32;
const quote = 34;
const plus = 43;
const minus = 45;
const tab = 9;

/** Exact powers of ten in double precision (10^22 < 2^53 * 5^22 limit). */
const powers = Array.from({ length: 23 }, (_, index) => Number(`1e${index}`));

/** What the table parser needs to know of the file. */
export interface TableLayout extends NumberStyle {
  /** Byte between fields; 32 means any run of spaces and tabs. */
  readonly delimiter: number;
  /** Fields in each line. */
  readonly fieldCount: number;
  /** Fields to skip unread, such as a label or a remark; by field index. */
  readonly skipped: ReadonlySet<number>;
  /** Skipped fields that must stay empty, as they have no name. */
  readonly mustBeEmpty: ReadonlySet<number>;
  /** Field that holds clock times; -1 for none. */
  readonly clockField: number;
  /** Line starts that mark a remark, as byte codes. */
  readonly comments: readonly number[];
  /** Whether a blank line is a row with a missing value. */
  readonly emptyIsMissing: boolean;
}

/** Most blank lines between rows that are kept in mind. */
const mostBlanks = 1 << 20;

/**
 * Parses numeric lines straight from bytes into one growing column per field.
 * Numbers of up to 15 digits with a power of ten within ±22 are exact by one
 * multiplication or division (Clinger 1990, "How to read floating point numbers
 * accurately"); all others take the careful path through `Number`.
 */
export class TableParser {
  /** One array per field; only the first `rowCount` values are valid. */
  readonly columns: Float64Array[];
  /** Rows parsed so far. */
  rowCount = 0;
  /** Missing values met so far. */
  missingCount = 0;
  /** Line number of the next line, counted from 1. */
  line: number;
  /** Byte offset in the chunk of the line being parsed. */
  lineStart = 0;
  /** Rows before which there was a blank line. */
  readonly blanks: number[] = [];
  readonly #layout: TableLayout;
  readonly #fileName: string | null;
  readonly #special: boolean[];
  readonly #isClock: boolean[];
  #capacity: number;

  /**
   * @param layout What the lines look like.
   * @param line Line number of the first line, counted from 1.
   * @param fileName Name for messages.
   * @param capacity Rows to make room for at first.
   */
  constructor(
    layout: TableLayout,
    line: number,
    fileName: string | null,
    capacity = 1024,
  ) {
    this.#layout = layout;
    this.#fileName = fileName;
    this.#capacity = Math.max(16, capacity);
    this.line = line;
    this.columns = Array.from(
      { length: layout.fieldCount },
      (_, index) =>
        largePages(
          new Float64Array(layout.skipped.has(index) ? 0 : this.#capacity),
        ),
    );
    this.#special = this.columns.map((_, index) => layout.skipped.has(index));
    this.#isClock = this.columns.map((_, index) => index === layout.clockField);
  }

  /**
   * Parses complete lines. One long loop on purpose: a call per field would
   * halve the speed.
   *
   * @param bytes The bytes; `bytes[end - 1]` must be a newline.
   * @param start First byte of a line.
   * @param end One past the last newline.
   * @throws {CaptureFormatError} If a line has text where a number belongs or
   * the wrong number of fields; `lineStart` then says where.
   */
  parse(bytes: Uint8Array, start: number, end: number): void {
    const { delimiter, fieldCount, decimalMark, comments, emptyIsMissing } =
      this.#layout;
    const decimal = decimalMark.charCodeAt(0);
    const columns = this.columns;
    const special = this.#special;
    const isClock = this.#isClock;
    const whitespace = delimiter === space;
    let row = this.rowCount;
    let p = start;
    while (p < end) {
      if ((row & 0x3fff) === 0) checkpoint(p / end, "parse text");
      let c = bytes[p]!;
      while (c === space || (c === tab && delimiter !== tab)) c = bytes[++p]!;
      if (c === carriageReturn && bytes[p + 1] === newline) c = bytes[++p]!;
      if (c === newline && !emptyIsMissing) {
        this.#noteBlank(row);
        this.line++;
        p++;
        continue;
      }
      this.lineStart = p;
      if (comments.length > 0 && comments.includes(c)) {
        p = bytes.indexOf(newline, p) + 1;
        this.line++;
        continue;
      }
      if (row === this.#capacity) this.#grow();
      let field = 0;
      for (;;) {
        // One field: from p to the delimiter or the end of the line.
        const first = p;
        let value: number;
        let plain = false;
        let negative = false;
        if (c === minus) {
          negative = true;
          c = bytes[++p]!;
        } else if (c === plus) {
          c = bytes[++p]!;
        }
        // Up to nine digits make `head`, up to nine more `next`: whole numbers
        // of 32 bits, which are faster than doubles.
        const digitsStart = p;
        let head = 0;
        let next = 0;
        let nextDigits = 0;
        let digit = c - 48;
        while (digit >>> 0 < 10) {
          head = (Math.imul(head, 10) + digit) | 0;
          digit = bytes[++p]! - 48;
        }
        let digits = p - digitsStart;
        let exponent = 0;
        if (digit + 48 === decimal) {
          const fractionStart = ++p;
          const stop = digitsStart + 10;
          digit = bytes[p]! - 48;
          while (digit >>> 0 < 10 && p < stop) {
            head = (Math.imul(head, 10) + digit) | 0;
            digit = bytes[++p]! - 48;
          }
          if (digit >>> 0 < 10) {
            const nextStart = p;
            do {
              next = (Math.imul(next, 10) + digit) | 0;
              digit = bytes[++p]! - 48;
            } while (digit >>> 0 < 10);
            nextDigits = p - nextStart;
          }
          exponent = fractionStart - p;
          digits -= exponent;
        }
        c = digit + 48;
        if (digits > 0 && (c === 101 || c === 69)) {
          let e = bytes[++p]!;
          let exponentNegative = false;
          if (e === minus) {
            exponentNegative = true;
            e = bytes[++p]!;
          } else if (e === plus) {
            e = bytes[++p]!;
          }
          const exponentStart = p;
          let power = 0;
          let e2 = e - 48;
          while (e2 >= 0 && e2 <= 9) {
            if (power < 10000) power = power * 10 + e2;
            e2 = bytes[++p]! - 48;
          }
          if (p === exponentStart) digits = 0;
          exponent += exponentNegative ? -power : power;
          c = e2 + 48;
        }
        while (
          c === space && !whitespace || (c === tab && delimiter !== tab)
        ) c = bytes[++p]!;
        if (c === carriageReturn && bytes[p + 1] === newline) c = bytes[++p]!;
        if (
          digits > 0 &&
          (c === delimiter || c === newline || (whitespace && c === tab))
        ) {
          plain = true;
        }
        if (
          plain && digits <= 15 && nextDigits <= 9 &&
          digits - nextDigits <= 9 && exponent >= -22 && exponent <= 22
        ) {
          value = nextDigits === 0 ? head : head * powers[nextDigits]! + next;
          value = exponent < 0
            ? value / powers[-exponent]!
            : value * powers[exponent]!;
          if (negative) value = -value;
        } else {
          value = !plain
            ? NaN
            : digits - nextDigits <= 9 && nextDigits >= 6 && nextDigits <= 9
            ? longNumber(head, next, nextDigits, exponent)
            : longestNumber(bytes, digitsStart, p, decimal, exponent);
          if (value === value) {
            if (negative) value = -value;
          } else {
            if (!plain) {
              p = this.#fieldEnd(bytes, first, end, whitespace);
              c = bytes[p]!;
            }
            if (field < fieldCount && special[field]) {
              if (p > first) this.#checkEmpty(field);
              value = NaN;
            } else if (p === first) {
              value = NaN;
              if (field < fieldCount) this.missingCount++;
            } else {
              value = this.#careful(
                bytes,
                first,
                p,
                field,
                isClock[field] === true,
              );
            }
          }
        }
        if (field < fieldCount) {
          if (!special[field]) columns[field]![row] = value;
          else if (value === value) this.#checkEmpty(field);
          field++;
        } else if (p > first && value === value) {
          this.#wrongFieldCount(field + 1);
        }
        if (c === newline) break;
        c = bytes[++p]!;
        while (c === space || (c === tab && delimiter !== tab)) c = bytes[++p]!;
        if (c === carriageReturn && bytes[p + 1] === newline) c = bytes[++p]!;
        if (c === newline) {
          // A trailing delimiter: an empty last field, or none at all.
          if (field === fieldCount - 1 && !whitespace) {
            if (!special[field]) {
              columns[field]![row] = NaN;
              this.missingCount++;
            }
            field++;
          }
          break;
        }
      }
      if (field !== fieldCount) {
        this.rowCount = row;
        this.#wrongFieldCount(field);
      }
      row++;
      this.line++;
      this.rowCount = row;
      p++;
    }
    this.rowCount = row;
  }

  /** Adds rows that another parser of the same layout has parsed. */
  append(rows: {
    readonly columns: readonly Float64Array[];
    readonly rowCount: number;
    readonly missingCount: number;
    readonly blanks: readonly number[];
    readonly lineCount: number;
  }): void {
    const start = this.rowCount;
    while (this.#capacity < start + rows.rowCount) this.#grow();
    this.columns.forEach((column, index) => {
      if (!this.#special[index]) column.set(rows.columns[index]!, start);
    });
    for (const blank of rows.blanks) this.#noteBlank(start + blank);
    this.rowCount += rows.rowCount;
    this.missingCount += rows.missingCount;
    this.line += rows.lineCount;
  }

  #noteBlank(row: number): void {
    if (
      row > 0 && this.blanks.at(-1) !== row && this.blanks.length < mostBlanks
    ) this.blanks.push(row);
  }

  /** Forgets the first rows; what follows moves to the front. */
  dropRows(count: number): void {
    for (let index = 0; index < this.columns.length; index++) {
      this.columns[index]!.copyWithin(0, count, this.rowCount);
    }
    this.rowCount -= count;
    this.blanks.length = 0;
  }

  #grow(): void {
    this.#capacity *= 2;
    for (let index = 0; index < this.columns.length; index++) {
      if (this.#special[index]) continue;
      const next = largePages(new Float64Array(this.#capacity));
      next.set(this.columns[index]!);
      this.columns[index] = next;
    }
  }

  /** One past the last byte of a field that is not a plain number. */
  #fieldEnd(
    bytes: Uint8Array,
    start: number,
    end: number,
    whitespace: boolean,
  ): number {
    const { delimiter } = this.#layout;
    let p = start;
    if (bytes[p] === quote) {
      p++;
      while (p < end && bytes[p] !== quote && bytes[p] !== newline) p++;
    }
    while (
      p < end && bytes[p] !== delimiter && bytes[p] !== newline &&
      !(whitespace && bytes[p] === tab)
    ) p++;
    return p;
  }

  #careful(
    bytes: Uint8Array,
    start: number,
    end: number,
    field: number,
    clock: boolean,
  ): number {
    const text = new TextDecoder().decode(
      bytes.subarray(start, Math.min(end, start + 1000)),
    );
    const value = clock ? parseClock(text) : parseField(text, this.#layout);
    if (value === undefined) {
      throw new CaptureFormatError(
        `Cannot read ${
          place(this.#fileName)
        } as line ${this.line} has text where a number belongs: field ${
          field + 1
        } is '${
          shorten(text)
        }'. Correct the line, or name the text in 'missing' where it stands for a missing value`,
        { fileName: this.#fileName, line: this.line, column: field + 1 },
      );
    }
    if (Number.isNaN(value) && field < this.#layout.fieldCount) {
      this.missingCount++;
    }
    return value;
  }

  #checkEmpty(field: number): void {
    if (!this.#layout.mustBeEmpty.has(field)) return;
    throw new CaptureFormatError(
      `Cannot read ${
        place(this.#fileName)
      } as line ${this.line} has a value in field ${
        field + 1
      }, which has no name and was empty before. Name the column, or take the value out`,
      { fileName: this.#fileName, line: this.line, column: field + 1 },
    );
  }

  #wrongFieldCount(count: number): never {
    throw new CaptureFormatError(
      `Cannot read ${place(this.#fileName)} as line ${this.line} has ${count} ${
        count === 1 ? "field" : "fields"
      } where ${this.#layout.fieldCount} are expected. Check the delimiter and the decimal mark, or that the file is complete`,
      { fileName: this.#fileName, line: this.line },
    );
  }
}
