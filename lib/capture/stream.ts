import { CaptureFormatError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import type { Shown, Warning } from "../result/mod.ts";
import {
  rateOfHead,
  scalesOf,
  timeChannelOf,
  withZeros,
} from "./binary/capture_of_binary.ts";
import { readBinary } from "./binary/read_binary.ts";
import { type Capture, createCapture, type Samples } from "./capture.ts";
import {
  type ByteSource,
  fileSource,
  memorySource,
} from "./file/byte_source.ts";
import { cryptoModule } from "../runtime/mod.ts";
import { regularFileSize } from "../runtime/mod.ts";
import { checkSource, locate } from "./file/locate.ts";
import { formatOf, openBinary } from "./file/open_file.ts";
import type {
  OpenedBinary,
  OpenedHead,
  ReadingAssumption,
} from "./file/opened_file.ts";
import { plainBytes, plainFile } from "./file/plain_source.ts";
import {
  type ChannelPlan,
  planChannels,
  withSamples,
} from "./make_channels.ts";
import { scaleRange } from "./scale.ts";
import type { ReadCaptureOptions } from "./options.ts";
import { checkReadOptions, requireSource } from "./option_names.ts";
import { doubtfulRate } from "./doubtful_rate.ts";
import { evenLines } from "./text/line_ends.ts";
import { place } from "./place.ts";
import { type OpenedText, openText } from "./text/open_text.ts";
import { textBlocks, textRateOfHead } from "./text/text_blocks.ts";

/** Where a stream can go on after it was stopped. */
export interface ResumePoint {
  /** Index of the next sample. */
  readonly sample: number;
  /** Byte offset of its line, for text; `null` for binary formats. */
  readonly byteOffset: number | null;
  /** Line number at `byteOffset`, counted from 1; `null` for binary formats. */
  readonly line: number | null;
}

/** One block of a stream. */
export interface CaptureBlock {
  /** The samples of the block as a capture of its own. */
  readonly capture: Capture & Shown;
  /** Index in the file of the block's first sample. */
  readonly start: number;
  /** Samples at the front that the block before had too. */
  readonly overlap: number;
  /** Part of the file done, 0 to 1. */
  readonly fraction: number;
  /** Whether it is the last block. */
  readonly last: boolean;
  /** Give this to {@linkcode CaptureStreamOptions} to go on after this block. */
  readonly resume: ResumePoint;
}

/** Options of {@linkcode CaptureStream.blocks}. */
export interface CaptureStreamOptions {
  /**
   * New samples per block.
   *
   * @default {262144}
   */
  blockLength?: number;
  /**
   * Samples of the block before that come again at the front of a block.
   *
   * @default {0}
   */
  overlap?: number;
  /**
   * Where to go on.
   *
   * @default {the first sample}
   */
  resume?: ResumePoint;
  /**
   * Stops the stream when it is aborted.
   *
   * @default {none}
   */
  signal?: AbortSignal;
}

/** A capture that is read block by block. */
export interface CaptureStream {
  /** Format name, such as `"WAV"`. */
  readonly format: string;
  /** Variant, such as `"PCM 16 bit"`. */
  readonly variant: string;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples in the file; `null` for text, which must be read to be counted. */
  readonly sampleCount: number | null;
  /** Time of the first sample, ISO 8601; `null` if the file does not say. */
  readonly startTime: string | null;
  /** Names of the channels. */
  readonly channelNames: readonly string[];
  /** `key: value` text of the header; untrusted input. */
  readonly metadata: Readonly<Record<string, string>>;
  /** What the reader decided, and how to override it. */
  readonly assumptions: readonly ReadingAssumption[];
  /** What the reader doubted. */
  readonly warnings: readonly Warning[];
  /**
   * The blocks in order. Only one block and its overlap are in memory.
   *
   * @throws {CaptureFormatError} Where the file is damaged.
   */
  blocks(options?: CaptureStreamOptions): AsyncGenerator<CaptureBlock>;
  /** SHA-256 of the file in lower-case hex; reads the file once. */
  sha256(): Promise<string>;
  /** Lets go of the file and removes temporary ones. */
  close(): void;
  /** The same as `close`, for `using`. */
  [Symbol.dispose](): void;
}

/**
 * Opens a capture of any size for block-wise reading; memory does not grow with
 * the file. Takes the formats of `readCapture`; a gzip file is unpacked to a
 * temporary one first. Use it with `using`, or call `close`.
 *
 * @param source Path, file URL, or the bytes of the file.
 * @param options As for `readCapture`.
 * @returns The stream.
 * @throws {CaptureFormatError} If the file is empty or of no known format.
 *
 * @example
 * ```ts
 * import { openCaptureStream } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bytes = new TextEncoder().encode("monitor (V)\n1\n2\n3\n4\n5\n");
 * using stream = await openCaptureStream(bytes, { samplingRate: 10 });
 * const lengths: number[] = [];
 * for await (const { capture } of stream.blocks({ blockLength: 2 })) {
 *   lengths.push(capture.sampleCount);
 * }
 * expect(lengths).toEqual([2, 2, 1]);
 * ```
 */
export async function openCaptureStream(
  source: string | URL | Uint8Array,
  options: ReadCaptureOptions = {},
): Promise<CaptureStream> {
  requireSource(source);
  checkReadOptions(options);
  const inMemory = source instanceof Uint8Array;
  if (!inMemory) checkSource(source);
  checkReadOptions(options);
  const { maximumSize } = options;
  const located = inMemory ? null : await locate(source, options);
  if (located !== null) await regularFileSize(located.path);
  const fileName = located?.fileName ?? options.fileName ?? null;
  const plain = inMemory
    ? memorySource(plainBytes(source, maximumSize, fileName))
    : options.raw === undefined
    ? await plainFile(located!.path, maximumSize, fileName)
    : fileSource(located!.path);
  try {
    if (plain.size === 0) {
      throw new CaptureFormatError(
        `Cannot read ${
          place(fileName)
        } as it is empty: check that the recorder has written it, and record again`,
        { fileName, byteOffset: 0 },
      );
    }
    const sigmfMeta = located?.sigmfMeta ?? null;
    const format = sigmfMeta === null ? formatOf(plain, options) : "SigMF";
    const hash = () =>
      hashSource(
        inMemory ? memorySource(source) : fileSource(located!.path),
      );
    if (format === "delimited text") {
      const { source: lines, warnings } = evenLines(plain);
      const found = openText(lines, options, fileName);
      const opened = { ...found, warnings: [...warnings, ...found.warnings] };
      return textStream(lines, opened, options, fileName, hash);
    }
    const opened = openBinary(plain, format, options, fileName, sigmfMeta);
    return binaryStream(plain, opened, options, fileName, hash);
  } catch (error) {
    plain.close();
    throw error;
  }
}

async function hashSource(source: ByteSource): Promise<string> {
  const hash = cryptoModule().createHash("sha256");
  const step = 1 << 22;
  for (let at = 0; at < source.size; at += step) {
    checkpoint(at / source.size, "hash");
    hash.update(source.read(at, step));
    await Promise.resolve();
  }
  source.close();
  return hash.digest("hex");
}

function stream(
  plain: ByteSource,
  opened: OpenedHead,
  samplingRate: number,
  sampleCount: number | null,
  skipped: ReadonlySet<number>,
  options: ReadCaptureOptions,
  warnings: readonly Warning[],
  hash: () => Promise<string>,
  blocks: (options: CaptureStreamOptions) => AsyncGenerator<CaptureBlock>,
): CaptureStream {
  let closed = false;
  const close = () => {
    if (!closed) plain.close();
    closed = true;
  };
  return {
    format: opened.format,
    variant: opened.variant,
    samplingRate,
    sampleCount,
    startTime: options.startTime ?? opened.startTime,
    channelNames: opened.channels.filter((_, at) => !skipped.has(at))
      .map(({ name }) => name),
    metadata: opened.metadata,
    assumptions: opened.assumptions,
    warnings,
    blocks: (settings = {}) => {
      const { blockLength = 262144, overlap = 0 } = settings;
      if (!Number.isSafeInteger(blockLength) || blockLength < 1) {
        throw new RangeError(
          `Cannot stream as 'blockLength' must be a whole number of at least 1: current value is ${blockLength}`,
        );
      }
      if (!Number.isSafeInteger(overlap) || overlap < 0) {
        throw new RangeError(
          `Cannot stream as 'overlap' must be a whole number of at least 0: current value is ${overlap}`,
        );
      }
      return blocks({ ...settings, blockLength, overlap });
    },
    sha256: hash,
    close,
    [Symbol.dispose]: close,
  };
}

function makeBlock(
  opened: OpenedHead,
  plans: readonly ChannelPlan[],
  columns: readonly Samples[],
  samplingRate: number,
  fileName: string | null,
  warnings: readonly Warning[],
): Capture & Shown {
  return createCapture(withSamples(plans, columns), {
    samplingRate,
    startTime: null,
    metadata: opened.metadata,
    source: { fileName, sha256: null, format: opened.format },
    warnings,
  });
}

function binaryStream(
  plain: ByteSource,
  opened: OpenedBinary,
  options: ReadCaptureOptions,
  fileName: string | null,
  hash: () => Promise<string>,
): CaptureStream {
  const warnings: Warning[] = [...opened.warnings];
  const time = timeChannelOf(opened, options);
  const skipped = new Set(time === null ? [] : [time]);
  const samplingRate = rateOfHead(opened, options, fileName, warnings);
  warnings.push(...doubtfulRate(samplingRate));
  const { sampleCount } = opened;
  const { plans, warnings: doubts } = planChannels(
    opened.channels.filter((_, at) => at !== time),
    options.channels ?? {},
  );
  const scales = scalesOf(opened, plans, time);
  const file = withZeros(opened, plans, time);
  async function* blocks(settings: CaptureStreamOptions) {
    const { blockLength, overlap, signal } = settings as Required<
      CaptureStreamOptions
    >;
    let at = settings.resume?.sample ?? 0;
    while (at < sampleCount) {
      signal?.throwIfAborted();
      checkpoint(at / sampleCount, "read block");
      const before = Math.min(overlap, at);
      const end = Math.min(sampleCount, at + blockLength);
      const columns = readBinary(
        file,
        at - before,
        end - at + before,
        scales,
      );
      yield {
        capture: makeBlock(
          opened,
          plans,
          columns.filter((_, column) => column !== time),
          samplingRate,
          fileName,
          doubts,
        ),
        start: at - before,
        overlap: before,
        fraction: end / sampleCount,
        last: end === sampleCount,
        resume: { sample: end, byteOffset: null, line: null },
      };
      at = end;
      await Promise.resolve();
    }
  }
  return stream(
    plain,
    opened,
    samplingRate,
    sampleCount,
    skipped,
    options,
    warnings,
    hash,
    blocks,
  );
}

function textStream(
  plain: ByteSource,
  opened: OpenedText,
  options: ReadCaptureOptions,
  fileName: string | null,
  hash: () => Promise<string>,
): CaptureStream {
  const warnings: Warning[] = [...opened.warnings];
  const samplingRate = textRateOfHead(
    plain,
    opened,
    options,
    fileName,
    warnings,
  );
  warnings.push(...doubtfulRate(samplingRate));
  const { plans, warnings: doubts } = planChannels(
    opened.channels,
    options.channels ?? {},
  );
  async function* blocks(settings: CaptureStreamOptions) {
    const { signal } = settings;
    for (const block of textBlocks(plain, opened, settings, fileName)) {
      signal?.throwIfAborted();
      const { fraction } = block;
      checkpoint(fraction, "read block");
      const { columns, ...where } = block;
      columns.forEach((column, index) => {
        const { zero, factor } = plans[index]!;
        scaleRange(column, 0, column.length, zero, factor);
      });
      yield {
        ...where,
        capture: makeBlock(
          opened,
          plans,
          columns,
          samplingRate,
          fileName,
          doubts,
        ),
      };
      await Promise.resolve();
    }
  }
  return stream(
    plain,
    opened,
    samplingRate,
    opened.rowTable?.rows[0]?.samples.length ?? null,
    new Set(),
    options,
    warnings,
    hash,
    blocks,
  );
}
