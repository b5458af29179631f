import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import { type Capture, type CaptureSource, createCapture } from "../capture.ts";
import {
  makeChannels,
  type RawChannel,
  scaleInPlace,
} from "../make_channels.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { parseUnit } from "../unit.ts";
import { readHeader, type TextHeader } from "./header.ts";
import { decodeText, looksLikeText, textOf } from "./lines.ts";
import {
  type HeadLine,
  numbersOf,
  type SniffedTable,
  sniffTable,
} from "./sniff.ts";
import { place, TableParser } from "./table_parser.ts";
import { readTimeAxis } from "./time_axis.ts";

/** Bytes of the head that are looked at to find the layout. */
const headSize = 1 << 18;

/** Reads a capture from the bytes of a delimited text file. */
export function readText(
  fileBytes: Uint8Array,
  options: ReadCaptureOptions,
  source: CaptureSource,
): Capture {
  const { fileName } = source;
  const { bytes, start } = decodeText(fileBytes);
  if (!looksLikeText(bytes.subarray(start))) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as it is neither text nor a known binary format. Check the file, or give 'format'`,
      { fileName, byteOffset: 0 },
    );
  }
  const head = headLines(bytes, start);
  if (head.length === 0) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as it holds only blank lines`,
      { fileName, line: 1 },
    );
  }
  const table = sniffTable(head, options, fileName);
  const header = readHeader(head, table);
  const warnings: Warning[] = [...table.warnings];
  checkNames(table, header, fileName, warnings);
  const parser = parseAll(bytes, head, table, fileName, warnings);
  return assemble(parser, table, header, head, options, source, warnings);
}

function headLines(bytes: Uint8Array, start: number): HeadLine[] {
  const lines: HeadLine[] = [];
  const limit = Math.min(bytes.length, start + headSize);
  let position = start;
  let number = 1;
  while (position < limit && lines.length < 4000) {
    let end = bytes.indexOf(10, position);
    if (end < 0) end = bytes.length;
    if (end > limit && lines.length > 0) break;
    const { text } = textOf(bytes.subarray(position, end));
    lines.push({ text: text.replace(/\r$/, ""), number, offset: position });
    position = end + 1;
    number++;
  }
  return lines.some(({ text }) => text.trim() !== "") ? lines : [];
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

function parseAll(
  bytes: Uint8Array,
  head: readonly HeadLine[],
  table: SniffedTable,
  fileName: string | null,
  warnings: Warning[],
): TableParser {
  const first = head[table.dataLine]!;
  const lastNewline = bytes.lastIndexOf(10) + 1;
  const meanLine = Math.max(
    2,
    ((head.at(-1)!.offset + head.at(-1)!.text.length) - first.offset) /
      Math.max(1, head.length - table.dataLine),
  );
  const parser = new TableParser(
    {
      ...table,
      delimiter: table.delimiter.charCodeAt(0),
      skipped: table.fieldKinds.flatMap((kind, index) =>
        kind === "text" || kind === "empty" ? [index] : []
      ),
      clockField: table.fieldKinds.indexOf("clock"),
      comments: [35, 37, 33],
    },
    first.number,
    fileName,
    Math.ceil((bytes.length - first.offset) / meanLine * 1.05) + 16,
  );
  const end = Math.max(lastNewline, first.offset);
  parser.parse(bytes, first.offset, end);
  if (end < bytes.length) {
    const rest = new Uint8Array(bytes.length - end + 1);
    rest.set(bytes.subarray(end));
    rest[rest.length - 1] = 10;
    const rows = parser.rowCount;
    try {
      parser.parse(rest, 0, rest.length);
    } catch (error) {
      if (!(error instanceof CaptureFormatError) || rows === 0) throw error;
      parser.rowCount = rows;
      warnings.push(warn(
        "truncated",
        `The last line, ${parser.line}, is cut off and was left out: the file may be incomplete`,
      ));
    }
  }
  return parser;
}

function findTimeColumn(
  table: SniffedTable,
  header: TextHeader,
  head: readonly HeadLine[],
  wanted: string | number | null | undefined,
  fileName: string | null,
): { time: number; index: number } {
  const { fieldKinds } = table;
  const names = header.names.map((name) => name?.toLowerCase() ?? "");
  if (wanted === null) return { time: -1, index: -1 };
  if (wanted !== undefined) {
    const time = typeof wanted === "number"
      ? wanted
      : names.indexOf(wanted.toLowerCase());
    if (!Number.isInteger(time) || time < 0 || time >= table.fieldCount) {
      throw new RangeError(
        `Cannot use time column '${wanted}' of ${
          place(fileName)
        }: columns are ${
          header.names.map((name, at) => `${at}: '${name ?? ""}'`).join(", ")
        }`,
      );
    }
    return { time, index: -1 };
  }
  const clock = fieldKinds.indexOf("clock");
  if (clock >= 0) return { time: clock, index: -1 };
  const named = names.findIndex((name, at) =>
    fieldKinds[at] === "number" &&
    (/^(time|t|zeit|temps|tiempo|tempo|elapsed|elapsed time|timestamp|x|x-axis|second|seconds|sec|secs|s)$/
      .test(name) ||
      /^(rel(ative)?\.? |elapsed )?time\b/.test(name) ||
      (parseUnit(header.units[at] ?? "")?.unit === "s"))
  );
  if (named >= 0) return { time: named, index: -1 };
  const counter = names.findIndex((name) =>
    /^(index|sample|samples|sample number|no\.?|nr\.?|n|point|points|row)$/
      .test(name)
  );
  if (counter >= 0 && table.fieldCount > 1) return { time: -1, index: counter };
  if (header.names.some((name) => name !== null) || table.fieldCount < 2) {
    return { time: -1, index: -1 };
  }
  // No names: a first column that rises evenly is time, or a row counter.
  const rows = head.slice(table.dataLine, table.dataLine + 200)
    .filter(({ text }) => text.trim() !== "")
    .map(({ text }) => numbersOf(text, table)[0] ?? NaN);
  if (rows.length < 3) return { time: -1, index: -1 };
  const step = (rows.at(-1)! - rows[0]!) / (rows.length - 1);
  const even = step > 0 && rows.every((value, at) =>
    at === 0 ||
    Math.abs(value - rows[at - 1]! - step) <= 0.5 * step
  );
  if (!even) return { time: -1, index: -1 };
  const isCounter = step === 1 &&
    rows.every((value) => Number.isInteger(value));
  return isCounter ? { time: -1, index: 0 } : { time: 0, index: -1 };
}

function assemble(
  parser: TableParser,
  table: SniffedTable,
  header: TextHeader,
  head: readonly HeadLine[],
  options: ReadCaptureOptions,
  source: CaptureSource,
  warnings: Warning[],
): Capture {
  const { fileName } = source;
  const count = parser.rowCount;
  if (count === 0) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as it has no complete row of numbers`,
      { fileName, line: head[table.dataLine]?.number ?? null },
    );
  }
  const columns = parser.columns.map((column) =>
    column.length === count ? column : column.subarray(0, count)
  );
  const { time, index } = findTimeColumn(
    table,
    header,
    head,
    options.timeColumn,
    fileName,
  );
  let rate = options.samplingRate ?? null;
  if (time >= 0) {
    const unit = header.units[time];
    const factor = unit === null || unit === undefined
      ? 1
      : parseUnit(unit)?.factor ?? 1;
    const times = columns[time]!;
    scaleInPlace(times, factor);
    const axis = readTimeAxis(times);
    if (rate === null) {
      rate = axis.samplingRate;
      warnings.push(...axis.warnings);
      if (unit === null && table.fieldKinds[time] !== "clock") {
        warnings.push(warn(
          "time-unit-assumed",
          "The time column has no unit: seconds were assumed. If it is in another unit, give 'samplingRate' in Hz",
          "note",
        ));
      }
      if (
        header.samplingRate !== null &&
        Math.abs(header.samplingRate / rate - 1) > 0.01
      ) {
        warnings.push(warn(
          "sampling-rate-disagrees",
          `The time column says ${rate} Hz but '${header.samplingRateKey}' says ${header.samplingRate} Hz: the time column was used. Give 'samplingRate' to decide`,
        ));
      }
    }
  } else if (rate === null) {
    rate = header.samplingRate;
  }
  if (rate === null || !Number.isFinite(rate)) {
    throw new CaptureFormatError(
      count === 1
        ? `Cannot read ${
          place(fileName)
        } as it has one sample only: one sample has no sampling rate`
        : time >= 0
        ? `Cannot read ${
          place(fileName)
        } as its time column does not rise: give 'samplingRate' in Hz, or another 'timeColumn'`
        : `Cannot read ${
          place(fileName)
        } as it has no time column and no sample interval: give 'samplingRate' in Hz`,
      { fileName, line: head[table.dataLine]?.number ?? null },
    );
  }
  const raw: RawChannel[] = [];
  columns.forEach((samples, at) => {
    if (at === time || at === index) return;
    const kind = table.fieldKinds[at];
    if (kind === "text" || kind === "empty") return;
    const text = header.units[at] ?? null;
    const unit = text === null ? null : parseUnit(text);
    const name = header.names[at] ?? `column ${at + 1}`;
    if (unit === null) {
      warnings.push(warn(
        "unit-unknown",
        text === null
          ? `Channel '${name}' has no unit: its numbers were kept as they are. Give 'unit' and 'scale' in 'channels'`
          : `The unit '${
            text.slice(0, 40)
          }' of channel '${name}' is not known: its numbers were kept as they are. Give 'unit' and 'scale' in 'channels'`,
        text === null ? "note" : "doubtful",
      ));
    }
    raw.push({
      name,
      unit: unit?.unit ?? text ?? "1",
      scale: unit?.factor ?? 1,
      samples,
      fullScale: null,
    });
  });
  if (raw.length === 0) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as it has a time column but no signal column. Check the delimiter`,
      { fileName, line: head[table.dataLine]?.number ?? null },
    );
  }
  if (parser.missingCount > 0) {
    warnings.push(warn(
      "missing-values",
      `${parser.missingCount} values are missing and stand as NaN`,
    ));
  }
  const made = makeChannels(raw, options.channels ?? {});
  return createCapture(made.channels, {
    samplingRate: rate,
    startTime: options.startTime ?? header.startTime,
    metadata: header.metadata,
    source: { ...source, format: "delimited text" },
    warnings: [...warnings, ...made.warnings],
  });
}
