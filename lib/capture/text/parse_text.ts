import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import type { ByteSource } from "../file/byte_source.ts";
import { place } from "../place.ts";
import type { OpenedText } from "./open_text.ts";
import { textOf } from "./lines.ts";
import { TableParser } from "./table_parser.ts";
import { type TextChunk, textChunks } from "./text_chunks.ts";

/** All rows of a file. */
export interface ParsedText {
  /** One array per field of the rows. */
  readonly columns: readonly Float64Array[];
  readonly rowCount: number;
  readonly missingCount: number;
  /** Rows at which a heading came again, so that a new record begins. */
  readonly recordStarts: readonly number[];
  /** Rows before which there was a blank line. */
  readonly blanks: readonly number[];
  readonly warnings: readonly Warning[];
}

/** Parses every row of a file. */
export function parseText(
  source: ByteSource,
  opened: OpenedText,
  fileName: string | null,
): ParsedText {
  const rows = opened.rowTable?.rows;
  if (rows !== undefined) {
    return {
      columns: rows.map(({ samples }) => samples),
      rowCount: rows[0]?.samples.length ?? 0,
      missingCount: rows.reduce((sum, row) => sum + row.missingCount, 0),
      recordStarts: [],
      blanks: [],
      warnings: [],
    };
  }
  const expected = (source.size - opened.dataOffset) / opened.rowSize * 1.05;
  const table = new TextReader(opened, fileName, Math.ceil(expected) + 16);
  for (const chunk of textChunks(source, opened.dataOffset, fileName)) {
    table.add(chunk);
  }
  return finishText(table, opened, fileName);
}

/** What a reader has read, once it has read all. */
export function finishText(
  reader: TextReader,
  opened: OpenedText,
  fileName: string | null,
): ParsedText {
  const { parser } = reader;
  const count = parser.rowCount;
  if (count === 0) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as it has no complete row of numbers`,
      { fileName, line: opened.dataLine },
    );
  }
  return {
    columns: parser.columns.map((column) => column.subarray(0, count)),
    rowCount: count,
    missingCount: parser.missingCount,
    recordStarts: reader.recordStarts,
    blanks: parser.blanks,
    warnings: reader.warnings,
  };
}

const recordLine =
  /^[#%"\s]*(segment|record|frame|sweep|waveform|acquisition)\b/i;

/** Feeds chunks of lines to the table parser and steps over headings. */
export class TextReader {
  readonly parser: TableParser;
  /** Rows at which a heading came again. */
  readonly recordStarts: number[] = [];
  readonly warnings: Warning[] = [];
  readonly #opened: OpenedText;
  readonly #fileName: string | null;
  /** Inside a heading that goes on in the next chunk. */
  #inHeading = false;

  constructor(
    opened: OpenedText,
    fileName: string | null,
    capacity: number,
  ) {
    this.#opened = opened;
    this.#fileName = fileName;
    this.parser = new TableParser(
      opened.layout,
      opened.dataLine,
      fileName,
      capacity,
    );
  }

  /** Whether the lines read so far end inside a heading. */
  get inHeading(): boolean {
    return this.#inHeading;
  }

  /** Parses a chunk of whole lines. */
  add({ bytes, start, end, unterminated }: TextChunk): void {
    const { parser } = this;
    const rows = parser.rowCount;
    let at = start;
    try {
      if (this.#inHeading) at = this.#skipHeading(bytes, at, end);
      while (at < end) {
        try {
          parser.parse(bytes, at, end);
          return;
        } catch (error) {
          if (!(error instanceof CaptureFormatError)) throw error;
          at = parser.lineStart;
          if (!this.#isHeading(bytes, at, end)) throw error;
          this.recordStarts.push(parser.rowCount);
          at = this.#skipHeading(bytes, at, end);
        }
      }
    } catch (error) {
      this.#refuseCarriageReturn(bytes, end);
      if (
        !unterminated || !(error instanceof CaptureFormatError) || rows === 0
      ) throw error;
      parser.rowCount = rows;
      this.warnings.push(warn(
        "truncated",
        `The last line, ${parser.line}, is cut off and was left out: the file may be incomplete`,
      ));
    }
  }

  /** A line that could not be read as it is several, ended another way. */
  #refuseCarriageReturn(bytes: Uint8Array, end: number): void {
    const { lineStart, line } = this.parser;
    const stop = bytes.indexOf(10, lineStart);
    const text = bytes.subarray(lineStart, stop < 0 ? end : stop);
    const inside = text.indexOf(13);
    if (inside < 0 || inside >= text.length - 1) return;
    throw new CaptureFormatError(
      `Cannot read ${
        place(this.#fileName)
      } as line ${line} holds carriage returns: the file mixes line ends. Save it with one kind of line end`,
      { fileName: this.#fileName, line },
    );
  }

  #lineAt(bytes: Uint8Array, at: number, end: number): string {
    const stop = bytes.indexOf(10, at);
    return textOf(
      bytes.subarray(at, Math.min(stop < 0 ? end : stop, at + 4096)),
    ).text.trim();
  }

  #isHeading(bytes: Uint8Array, at: number, end: number): boolean {
    const line = this.#lineAt(bytes, at, end);
    return this.#opened.headingLines.has(line) || recordLine.test(line);
  }

  /** Steps to the next line that is a row of numbers. */
  #skipHeading(bytes: Uint8Array, start: number, end: number): number {
    const probe = new TableParser(this.#opened.layout, 1, this.#fileName, 16);
    let at = start;
    this.#inHeading = true;
    while (at < end) {
      const next = bytes.indexOf(10, at) + 1;
      if (this.#lineAt(bytes, at, end) !== "") {
        try {
          probe.rowCount = 0;
          probe.parse(bytes, at, next);
          if (probe.rowCount > 0) {
            this.#inHeading = false;
            return at;
          }
        } catch (error) {
          if (!(error instanceof CaptureFormatError)) throw error;
        }
      }
      this.parser.line++;
      at = next;
    }
    return end;
  }
}
