import { CaptureFormatError } from "../../errors/mod.ts";
import { warn, type Warning } from "../../result/mod.ts";
import { type ByteSource, partOf } from "../file/byte_source.ts";
import { scaleRange } from "../scale.ts";
import { statedRate } from "../option_names.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { place } from "../place.ts";
import type { CaptureStreamOptions, ResumePoint } from "../stream.ts";
import { parseClock } from "./clock.ts";
import { parseField } from "./field.ts";
import { splitLine, textOf } from "./lines.ts";
import type { OpenedText } from "./open_text.ts";
import { TextReader } from "./parse_text.ts";
import { textChunks } from "./text_chunks.ts";
import { readTimeAxis } from "./time_axis.ts";

/** Rows of the head that the sampling rate is taken from. */
const rowsLookedAt = 4096;

/** A block of rows: one array per channel, in the file's numbers. */
export interface TextBlock {
  readonly columns: readonly Float64Array[];
  readonly start: number;
  readonly overlap: number;
  readonly fraction: number;
  readonly last: boolean;
  readonly resume: ResumePoint;
}

/**
 * Sampling rate without reading the whole file: from the times of the first
 * rows, refined with the last row where the two agree.
 */
export function textRateOfHead(
  source: ByteSource,
  opened: OpenedText,
  options: ReadCaptureOptions,
  fileName: string | null,
  warnings: Warning[],
): number {
  const stated = statedRate(options);
  if (stated !== undefined) return stated;
  if (opened.described && opened.samplingRate !== null) {
    return opened.samplingRate;
  }
  const { time } = opened.time;
  if (time < 0) {
    if (opened.samplingRate !== null) return opened.samplingRate;
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as it has no time column and no sample interval: give 'samplingRate' in Hz`,
      { fileName, line: opened.dataLine },
    );
  }
  const times = headTimes(source, opened, fileName);
  scaleRange(times, 0, times.length, 0, opened.timeFactor);
  const axis = readTimeAxis(times);
  warnings.push(...axis.warnings);
  const rate = axis.samplingRate;
  if (!(rate > 0 && Number.isFinite(rate))) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as its time column does not rise: give 'samplingRate' in Hz, or another 'timeColumn'`,
      { fileName, line: opened.dataLine },
    );
  }
  const last = lastTime(source, opened);
  const span = last * opened.timeFactor - times[0]!;
  const steps = Math.round(span * rate);
  if (!(steps >= times.length)) return rate;
  const refined = steps / span;
  // Printed times are good to about one unit of their last digit: the head can
  // only be refined where it fixes the number of steps.
  const headError = axis.largestDeviation * rate / times.length;
  return headError * steps < 0.4 ? refined : rate;
}

function headTimes(
  source: ByteSource,
  opened: OpenedText,
  fileName: string | null,
): Float64Array {
  const { time } = opened.time;
  if (opened.rowTable !== null) {
    return opened.rowTable.rows[time]!.samples.slice();
  }
  const reader = new TextReader(opened, fileName, rowsLookedAt);
  const size = Math.ceil(opened.rowSize * rowsLookedAt) + 65536;
  const head = partOf(
    { ...source, inMemory: false },
    0,
    Math.min(source.size, opened.dataOffset + size),
  );
  for (const chunk of textChunks(head, opened.dataOffset, fileName)) {
    if (!chunk.unterminated || head.size === source.size) reader.add(chunk);
    if (reader.parser.rowCount >= rowsLookedAt) break;
  }
  const { parser } = reader;
  const until = reader.recordStarts[0] ?? parser.rowCount;
  return parser.columns[time]!.slice(0, Math.min(until, rowsLookedAt));
}

/** Time of the last complete row, in the file's unit; `NaN` if unreadable. */
function lastTime(source: ByteSource, opened: OpenedText): number {
  if (opened.rowTable !== null) {
    return opened.rowTable.rows[opened.time.time]!.samples.at(-1) ?? NaN;
  }
  const size = Math.min(65536, source.size - opened.dataOffset);
  const { text } = textOf(source.read(source.size - size, size));
  const lines = text.split("\n").map((line) => line.trim())
    .filter((line) => line !== "");
  const line = lines.at(-1) ?? "";
  const delimiter = String.fromCharCode(opened.layout.delimiter);
  const cells = splitLine(line, delimiter);
  if (cells.length < opened.layout.fieldCount) return NaN;
  const cell = cells[opened.time.time] ?? "";
  const value = opened.layout.clockField === opened.time.time
    ? parseClock(cell)
    : parseField(cell, opened.layout);
  return value ?? NaN;
}

/** Goes through the rows in blocks; at most two blocks are in memory. */
export function* textBlocks(
  source: ByteSource,
  opened: OpenedText,
  options: CaptureStreamOptions,
  fileName: string | null,
): Generator<TextBlock> {
  // Held back by one, so that the last is known as such.
  let held: TextBlock | null = null;
  for (const block of rowBlocks(source, opened, options, fileName)) {
    if (held !== null) yield held;
    held = block;
  }
  if (held !== null) yield { ...held, fraction: 1, last: true };
}

function* rowBlocks(
  source: ByteSource,
  opened: OpenedText,
  options: CaptureStreamOptions,
  fileName: string | null,
): Generator<TextBlock> {
  const { blockLength = 262144, overlap = 0, resume } = options;
  const wanted = opened.channelColumns;
  if (opened.rowTable !== null) {
    const { rows } = opened.rowTable;
    const count = rows[0]?.samples.length ?? 0;
    for (let at = resume?.sample ?? 0; at < count; at += blockLength) {
      const before = Math.min(overlap, at);
      const end = Math.min(count, at + blockLength);
      yield {
        columns: wanted.map((column) =>
          rows[column]!.samples.slice(at - before, end)
        ),
        start: at - before,
        overlap: before,
        fraction: end / count,
        last: false,
        resume: { sample: end, byteOffset: null, line: null },
      };
    }
    return;
  }
  const origin = resume?.byteOffset ?? opened.dataOffset;
  const reader = new TextReader(
    { ...opened, dataLine: resume?.line ?? opened.dataLine },
    fileName,
    Math.min(blockLength * 2, 1 << 20),
  );
  const { parser } = reader;
  let sample = resume?.sample ?? 0;
  let skip = resume !== undefined && resume.byteOffset === null ? sample : 0;
  if (skip > 0) sample = 0;
  let kept = 0;
  let at: ResumePoint = { sample, byteOffset: origin, line: opened.dataLine };
  const emit = (count: number, fraction: number): TextBlock => {
    const block: TextBlock = {
      columns: wanted.map((column) =>
        parser.columns[column]!.slice(0, kept + count)
      ),
      start: sample - kept,
      overlap: kept,
      fraction,
      last: false,
      resume: { ...at, sample: sample + count },
    };
    sample += count;
    const keep = Math.min(overlap, kept + count);
    parser.dropRows(kept + count - keep);
    kept = keep;
    return block;
  };
  for (const chunk of textChunks(source, origin, fileName)) {
    for (const part of rowsOf(chunk.bytes, chunk.start, chunk.end)) {
      const { start, end } = part;
      reader.add({ ...chunk, start, end });
      if (skip > 0) {
        const dropped = Math.min(skip, parser.rowCount);
        parser.dropRows(dropped);
        skip -= dropped;
        sample += dropped;
      }
      const offset = chunk.offset + (end - chunk.start);
      const fraction = Math.min(
        1,
        (offset - opened.dataOffset) /
          Math.max(1, source.size - opened.dataOffset),
      );
      while (parser.rowCount - kept >= blockLength) {
        const exact = parser.rowCount - kept === blockLength;
        at = exact
          ? { sample, byteOffset: offset, line: parser.line }
          : { sample, byteOffset: null, line: null };
        yield emit(blockLength, fraction);
      }
    }
  }
  if (reader.recordStarts.length > 0) {
    reader.warnings.push(warn(
      "several-records",
      "The file holds several records one after the other: they were joined",
    ));
  }
  const rest = parser.rowCount - kept;
  if (rest > 0) {
    at = { sample, byteOffset: source.size, line: parser.line };
    yield emit(rest, 1);
  }
}

/** Cuts a chunk into stretches of whole lines, about 64 KiB each. */
function* rowsOf(
  bytes: Uint8Array,
  start: number,
  end: number,
): Generator<{ start: number; end: number }> {
  for (let at = start; at < end;) {
    const newline = bytes.indexOf(10, Math.min(at + 65536, end - 1));
    const next = newline < 0 ? end : newline + 1;
    yield { start: at, end: next };
    at = next;
  }
}
