import { CaptureFormatError } from "../../errors/mod.ts";
import { type Shown, warn, type Warning } from "../../result/mod.ts";
import { type Capture, type CaptureSource, createCapture } from "../capture.ts";
import type { ByteSource } from "../file/byte_source.ts";
import { planChannels, withSamples } from "../make_channels.ts";
import { statedRate } from "../option_names.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { place } from "../place.ts";
import { doubtfulRate } from "../doubtful_rate.ts";
import { scaleRange } from "../scale.ts";
import { evenLines } from "./line_ends.ts";
import { type OpenedText, openText } from "./open_text.ts";
import { parseParallel } from "./parallel/parse_parallel.ts";
import { type ParsedText, parseText } from "./parse_text.ts";
import { findRecords, type RecordRows } from "./records.ts";
import { readTimeAxis } from "./time_axis.ts";

/**
 * Reads all records of a delimited text file, one capture each.
 *
 * @param sourceOf Where the captures come from; asked once all is read.
 */
export function readText(
  bytes: ByteSource,
  options: ReadCaptureOptions,
  fileName: string | null,
  sourceOf: () => CaptureSource,
): (Capture & Shown)[] {
  const { source, warnings } = evenLines(bytes);
  const found = openText(source, options, fileName);
  const opened = { ...found, warnings: [...warnings, ...found.warnings] };
  const parsed = parseText(source, opened, fileName);
  return capturesOf(opened, parsed, options, sourceOf);
}

/**
 * The same for a long file, in several threads.
 *
 * @param path The file.
 * @param bytes The same file, open.
 * @param workers Threads beside this one.
 */
export async function readLongText(
  path: string,
  bytes: ByteSource,
  options: ReadCaptureOptions,
  fileName: string | null,
  sourceOf: () => CaptureSource,
  workers: number,
): Promise<(Capture & Shown)[]> {
  if (evenLines(bytes).warnings.length > 0) {
    return readText(bytes, options, fileName, sourceOf);
  }
  const opened = openText(bytes, options, fileName);
  const parsed = opened.rowTable !== null ? null : await parseParallel(
    path,
    bytes,
    opened,
    fileName,
    workers,
    // The hash takes a pass of its own, while workers parse.
    () => void sourceOf(),
  );
  return capturesOf(
    opened,
    parsed ?? parseText(bytes, opened, fileName),
    options,
    sourceOf,
  );
}

function capturesOf(
  opened: OpenedText,
  parsed: ParsedText,
  options: ReadCaptureOptions,
  sourceOf: () => CaptureSource,
): (Capture & Shown)[] {
  const records = findRecords(parsed, opened);
  const source = sourceOf();
  return records.map((rows) =>
    makeCapture(opened, parsed, rows, options, source)
  );
}

function makeCapture(
  opened: OpenedText,
  parsed: ParsedText,
  rows: RecordRows,
  options: ReadCaptureOptions,
  source: CaptureSource,
): Capture & Shown {
  const count = rows.end - rows.start;
  const warnings: Warning[] = [...opened.warnings, ...parsed.warnings];
  const column = (at: number) =>
    parsed.columns[at]!.subarray(rows.start, rows.end);
  const samplingRate = findRate(
    opened,
    opened.time.time >= 0 ? column(opened.time.time) : null,
    count,
    options,
    source.fileName,
    warnings,
  );
  warnings.push(...doubtfulRate(samplingRate));
  // A named column that stays empty to the end is no channel.
  const isKept = opened.channelColumns.map((at) =>
    opened.described || opened.channels.length === 1 ||
    !column(at).every(Number.isNaN)
  );
  const kept = opened.channels.filter((_, index) => isKept[index]);
  const keptColumns = opened.channelColumns.filter((_, index) => isKept[index]);
  if (kept.length === 0) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(source.fileName)
      } as no column but the time has a value`,
      { fileName: source.fileName, line: opened.dataLine },
    );
  }
  if (kept.length < opened.channels.length) {
    warnings.push(warn(
      "empty-column",
      `Columns without any value were left out: ${
        opened.channels.filter((_, index) => !isKept[index])
          .slice(0, 20).map(({ name }) => `'${name.slice(0, 60)}'`).join(", ")
      }`,
      "note",
    ));
  }
  const { plans, warnings: doubts } = planChannels(
    kept,
    options.channels ?? {},
  );
  const columns = plans.map(({ zero, factor }, index) => {
    const samples = ownArray(column(keptColumns[index]!));
    scaleRange(samples, 0, count, zero, factor);
    return samples;
  });
  const missing = parsed.missingCount === 0
    ? 0
    : columns.reduce((sum, samples) => sum + countMissing(samples), 0);
  if (missing > 0) {
    warnings.push(warn(
      "missing-values",
      `${missing} ${missing === 1 ? "value is" : "values are"} missing and ${
        missing === 1 ? "stands" : "stand"
      } as NaN`,
    ));
  }
  return createCapture(withSamples(plans, columns), {
    samplingRate,
    startTime: options.startTime ?? opened.startTime,
    metadata: opened.metadata,
    source: { ...source, format: opened.format },
    warnings: [...warnings, ...doubts],
  });
}

function countMissing(samples: Float64Array): number {
  let count = 0;
  for (let index = 0; index < samples.length; index++) {
    if (samples[index] !== samples[index]) count++;
  }
  return count;
}

/** A view of nearly all of its memory stays; a small one is copied out. */
function ownArray(view: Float64Array): Float64Array {
  return view.byteLength * 1.25 + 1024 < view.buffer.byteLength
    ? view.slice()
    : view;
}

function findRate(
  opened: OpenedText,
  times: Float64Array | null,
  count: number,
  options: ReadCaptureOptions,
  fileName: string | null,
  warnings: Warning[],
): number {
  const stated = statedRate(options);
  if (stated !== undefined) return stated;
  if (opened.described && opened.samplingRate !== null) {
    return opened.samplingRate;
  }
  if (times !== null) {
    scaleRange(times, 0, count, 0, opened.timeFactor);
    const axis = readTimeAxis(times);
    if (Number.isFinite(axis.samplingRate)) {
      warnings.push(...axis.warnings);
      const stated = opened.statedRate;
      if (
        stated !== null && Math.abs(stated.value / axis.samplingRate - 1) > 0.01
      ) {
        warnings.push(warn(
          "sampling-rate-disagrees",
          `The time column says ${axis.samplingRate} Hz but '${stated.key}' says ${stated.value} Hz: the time column was used. Give 'samplingRate' to decide`,
        ));
      }
      return axis.samplingRate;
    }
    if (count > 1) {
      const stated = opened.statedRate;
      throw new CaptureFormatError(
        `Cannot read ${place(fileName)} as its time column does not rise${
          stated === null
            ? ""
            : ` although '${stated.key}' says ${stated.value} Hz`
        }: give 'samplingRate' in Hz, or another 'timeColumn'`,
        { fileName, line: opened.dataLine },
      );
    }
  }
  if (opened.samplingRate !== null) return opened.samplingRate;
  throw new CaptureFormatError(
    count === 1
      ? `Cannot read ${
        place(fileName)
      } as it has one sample only: one sample has no sampling rate. Record at least two`
      : `Cannot read ${
        place(fileName)
      } as it has no time column and no sample interval: give 'samplingRate' in Hz`,
    { fileName, line: opened.dataLine },
  );
}
