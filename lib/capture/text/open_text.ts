import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import {
  type CaptureDescription,
  describedChannels,
  descriptionMark,
  parseDescription,
} from "../description.ts";
import type { ByteSource } from "../file/byte_source.ts";
import type { OpenedChannel, OpenedHead } from "../file/opened_file.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { place } from "../place.ts";
import { parseUnit } from "../../units/mod.ts";
import { delimiterName, tableAssumptions } from "./assumptions.ts";
import { readHeader, type TextHeader } from "./header.ts";
import { leftOutRows } from "./left_out.ts";
import { looksLikeText, textOf } from "./lines.ts";
import { readRows, type RowTable } from "./row_layout.ts";
import { type HeadLine, type SniffedTable, sniffTable } from "./sniff.ts";
import { statedScale } from "./stated_scale.ts";
import type { TableLayout } from "./table_parser.ts";
import { findTimeColumn, type TimeColumn } from "./time_column.ts";

/** A delimited text file whose layout is known. */
export interface OpenedText extends OpenedHead {
  /** What the rows look like. */
  readonly layout: TableLayout;
  /** Byte offset of the first row of numbers. */
  readonly dataOffset: number;
  /** Line number of the first row of numbers, counted from 1. */
  readonly dataLine: number;
  /** Which columns hold time, a counter or a record number. */
  readonly time: TimeColumn;
  /** Factor from the time column's numbers to s. */
  readonly timeFactor: number;
  /** Column of each channel, in the order of `channels`. */
  readonly channelColumns: readonly number[];
  /** Heading lines, so that a repeated heading is recognised. */
  readonly headingLines: ReadonlySet<string>;
  /** Columns already parsed, for a file with one line per channel. */
  readonly rowTable: RowTable | null;
  /** Whether the file was written by this library. */
  readonly described: boolean;
  /** Sampling rate said by the heading and its key; `null` if it is silent. */
  readonly statedRate: { readonly value: number; readonly key: string } | null;
  /** Mean bytes per row of the head. */
  readonly rowSize: number;
}

/** Bytes of the head that are looked at to find the layout. */
const headSize = 1 << 18;
const mostHeadLines = 1000;

/** Finds the layout of a delimited text file. */
export function openText(
  source: ByteSource,
  options: ReadCaptureOptions,
  fileName: string | null,
): OpenedText {
  const bytes = source.read(0, Math.min(source.size, headSize)).slice();
  const start = bytes[0] === 0xef && bytes[1] === 0xbb && bytes[2] === 0xbf
    ? 3
    : 0;
  if (!looksLikeText(bytes.subarray(start))) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as it is neither text nor a known binary format. Check the file, or give 'format'`,
      { fileName, byteOffset: 0 },
    );
  }
  const head = headLines(bytes, start, source.size);
  if (!head.some(({ text }) => text.trim() !== "")) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as it holds only blank lines`,
      { fileName, line: 1 },
    );
  }
  const description = findDescription(head);
  if (options.orientation !== "columns" && description === null) {
    const rows = readRows(
      source,
      start,
      options,
      options.orientation === "rows",
      fileName,
    );
    if (rows !== null) return openRowTable(rows, options, fileName);
    if (options.orientation === "rows") {
      throw new CaptureFormatError(
        `Cannot read ${
          place(fileName)
        } by rows as no line holds eight or more numbers`,
        { fileName },
      );
    }
  }
  const sniffed = sniffTable(head, options, fileName);
  const table: SniffedTable = description !== null &&
      description.channels.length + 1 === sniffed.fieldCount
    ? { ...sniffed, fieldKinds: sniffed.fieldKinds.map(() => "number") }
    : sniffed;
  const leftOut = leftOutRows(head, table);
  const header = readHeader(leftOut.lines, {
    ...table,
    dataLine: table.dataLine - leftOut.count,
  });
  return openTable(
    head,
    { ...table, warnings: [...table.warnings, ...leftOut.warnings] },
    header,
    options,
    fileName,
    description,
  );
}

function headLines(
  bytes: Uint8Array,
  start: number,
  fileSize: number,
): HeadLine[] {
  const lines: HeadLine[] = [];
  let position = start;
  while (position < bytes.length && lines.length < mostHeadLines) {
    let end = bytes.indexOf(10, position);
    if (end < 0) {
      // A line cut by the limit would look like a damaged one.
      if (bytes.length < fileSize && lines.length > 0) break;
      end = bytes.length;
    }
    const { text } = textOf(bytes.subarray(position, end));
    lines.push({
      text: text.replace(/\r$/, ""),
      number: lines.length + 1,
      offset: position,
    });
    position = end + 1;
  }
  return lines;
}

function openTable(
  head: readonly HeadLine[],
  table: SniffedTable,
  header: TextHeader,
  options: ReadCaptureOptions,
  fileName: string | null,
  description: CaptureDescription | null,
): OpenedText {
  const warnings: Warning[] = [...table.warnings];
  checkNames(table, header, fileName, warnings);
  const first = head[table.dataLine]!;
  // Our own files: time first, then the channels, whatever their names.
  const isOurs = description !== null &&
    description.channels.length + 1 === table.fieldCount;
  const time: TimeColumn = isOurs
    ? { time: 0, counter: -1, record: -1, because: "the heading says so" }
    : findTimeColumn(table, header, head, options.timeColumn, fileName);
  const channelColumns = table.fieldKinds.flatMap((kind, at) =>
    (kind !== "number" && !(kind === "empty" && header.names[at] !== null)) ||
      at === time.time || at === time.counter ||
      at === time.record
      ? []
      : [at]
  );
  if (channelColumns.length === 0) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as it has a time column but no signal column. Check the delimiter`,
      { fileName, line: first.number },
    );
  }
  const described = isOurs;
  const channels = isOurs
    ? describedChannels(description)
    : channelColumns.map((at) =>
      makeChannel(
        header.names[at] ?? `column ${at + 1}`,
        header.units[at] ?? null,
        header.metadata,
        warnings,
      )
    );
  const unnamedEmpty = new Set(
    table.fieldKinds.flatMap((kind, at) =>
      kind === "empty" && header.names[at] === null ? [at] : []
    ),
  );
  table.fieldKinds.forEach((kind, at) => {
    if (kind !== "text") return;
    warnings.push(warn(
      "text-column",
      `Column ${at + 1}${
        header.names[at] === null ? "" : ` '${header.names[at]}'`
      } holds text and was left out`,
      "note",
    ));
  });
  const timeUnit = header.units[time.time] ?? null;
  if (
    time.time >= 0 && timeUnit === null &&
    table.fieldKinds[time.time] !== "clock" &&
    options.samplingRate === undefined && !described
  ) {
    warnings.push(warn(
      "time-unit-assumed",
      "The time column has no unit: seconds were assumed. If it is in another unit, give 'samplingRate' in Hz",
      "note",
    ));
  }
  const last = head.at(-1)!;
  return {
    format: "delimited text",
    variant: `${
      table.fieldCount === 1
        ? "one column"
        : `${delimiterName(table.delimiter)}-delimited`
    }, decimal ${table.decimalMark === "," ? "comma" : "point"}`,
    channels,
    samplingRate: isOurs ? description.samplingRate : header.samplingRate,
    startTime: isOurs ? description.startTime : header.startTime,
    metadata: isOurs ? description.metadata : header.metadata,
    assumptions: tableAssumptions(table, header, time),
    warnings,
    layout: {
      delimiter: table.delimiter.charCodeAt(0),
      fieldCount: table.fieldCount,
      decimalMark: table.decimalMark,
      thousandsMark: table.thousandsMark,
      missing: table.missing,
      skipped: new Set(
        table.fieldKinds.flatMap((kind, at) =>
          kind === "text" || kind === "aside" || unnamedEmpty.has(at)
            ? [at]
            : []
        ),
      ),
      mustBeEmpty: unnamedEmpty,
      clockField: table.fieldKinds.indexOf("clock"),
      comments: [35, 37, 33],
      emptyIsMissing: false,
    },
    dataOffset: first.offset,
    dataLine: first.number,
    time,
    timeFactor: timeUnit === null ? 1 : parseUnit(timeUnit)?.factor ?? 1,
    channelColumns,
    headingLines: new Set(
      head.slice(0, table.dataLine).map(({ text }) => text.trim())
        .filter((text) => text !== ""),
    ),
    rowTable: null,
    described,
    statedRate: header.samplingRate === null
      ? null
      : { value: header.samplingRate, key: header.samplingRateKey ?? "" },
    // An empty field still takes its delimiter.
    rowSize: Math.max(
      2,
      table.fieldCount,
      (last.offset + last.text.length + 1 - first.offset) /
        Math.max(1, head.length - table.dataLine),
    ),
  };
}

function findDescription(
  lines: readonly HeadLine[],
): CaptureDescription | null {
  for (const { text } of lines) {
    const at = text.indexOf(descriptionMark);
    if (at >= 0) return parseDescription(text.slice(at));
  }
  return null;
}

function makeChannel(
  name: string,
  unitText: string | null,
  metadata: Readonly<Record<string, string>>,
  warnings: Warning[],
): OpenedChannel {
  const parsed = unitText === null ? null : parseUnit(unitText);
  let unit = parsed?.unit ?? unitText ?? "1";
  let scale = parsed?.factor ?? 1;
  const stated = parsed === null || parsed.unit === "1"
    ? statedScale(name, metadata)
    : null;
  if (stated !== null) {
    ({ unit, scale } = stated);
    warnings.push(warn(
      "scale-applied",
      `The numbers of channel '${name}' were multiplied by ${scale} ${unit} as '${stated.key}' says. If they are scaled already, give 'scale: 1' in 'channels'`,
      "note",
    ));
  } else if (parsed === null) {
    warnings.push(warn(
      "unit-unknown",
      unitText === null
        ? `Channel '${name}' has no unit: its numbers were kept as they are. Give 'unit' and 'scale' in 'channels'`
        : `The unit '${
          unitText.slice(0, 40)
        }' of channel '${name}' is not known: its numbers were kept as they are. Give 'unit' and 'scale' in 'channels'`,
      unitText === null ? "note" : "doubtful",
    ));
  }
  return { name, unit, scale, fullScale: null, role: null };
}

function checkNames(
  table: SniffedTable,
  header: TextHeader,
  fileName: string | null,
  warnings: Warning[],
): void {
  const { mismatchedNames } = header;
  if (mismatchedNames === null) return;
  if (
    table.delimiter === "," && table.decimalMark === "." &&
    table.fieldCount === 2 * mismatchedNames
  ) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as its heading has ${mismatchedNames} names but its rows have ${table.fieldCount} fields: the comma seems to be delimiter and decimal mark at once. Save it with another delimiter or with decimal points`,
      { fileName, line: table.dataLine + 1 },
    );
  }
  warnings.push(warn(
    "heading-mismatch",
    `The line above the numbers has ${mismatchedNames} ${
      mismatchedNames === 1 ? "name" : "names"
    } but the rows have ${table.fieldCount} fields: names were not used`,
  ));
}

function openRowTable(
  rows: RowTable,
  options: ReadCaptureOptions,
  fileName: string | null,
): OpenedText {
  const headings = rows.rows.map(({ heading }) => heading ?? "");
  const line = headings.map((text) => `"${text.replaceAll('"', "'")}"`).join(
    rows.delimiter,
  );
  const anyNames = headings.some((text) => text !== "");
  const table: SniffedTable = {
    ...rows.style,
    delimiter: rows.delimiter,
    fieldCount: rows.rows.length,
    dataLine: rows.otherLines.length + (anyNames ? 1 : 0),
    dataLineCount: rows.rows.length,
    fieldKinds: rows.rows.map(() => "number" as const),
    warnings: [],
  };
  // The first samples again as lines, for what looks at the head.
  const count = Math.min(200, rows.rows[0]?.samples.length ?? 0);
  const sampleLines = Array.from(
    { length: count },
    (_, index) =>
      rows.rows.map(({ samples }) =>
        String(samples[index]).replace(".", rows.style.decimalMark)
      ).join(rows.delimiter),
  );
  const head = [
    ...rows.otherLines.map(({ text }) => text),
    ...(anyNames ? [line] : []),
    ...sampleLines,
  ].map((text, index): HeadLine => ({ text, number: index + 1, offset: 0 }));
  const header = readHeader(head, table);
  const opened = openTable(head, table, header, options, fileName, null);
  const warnings = anyNames || options.orientation === "rows"
    ? opened.warnings
    : [
      ...opened.warnings,
      warn(
        "orientation-assumed",
        `The ${rows.rows.length} long lines of numbers were taken for one channel each. If each line is one sample of many channels, give 'orientation: "columns"'`,
      ),
    ];
  return {
    ...opened,
    warnings,
    variant: `${opened.variant}, one line per channel`,
    assumptions: opened.assumptions.map((item) =>
      item.what === "orientation"
        ? {
          ...item,
          value: "one line per channel",
          because: `${rows.rows.length} lines hold ${
            rows.rows[0]?.samples.length
          } numbers each`,
        }
        : item
    ),
    rowTable: rows,
  };
}
