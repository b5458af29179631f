import { CaptureFormatError } from "../errors/mod.ts";
import { requireForm } from "../options/mod.ts";
import { type Shown, warn } from "../result/mod.ts";
import { planBinary } from "./binary/capture_of_binary.ts";
import { readBinary, readBinaryAhead } from "./binary/read_binary.ts";
import {
  type Capture,
  type CaptureSource,
  type ChannelInput,
  createCapture,
} from "./capture.ts";
import {
  type ByteSource,
  fileSource,
  memorySource,
} from "./file/byte_source.ts";
import { hashedSource } from "./file/hashed_source.ts";
import { looksLikeGzip, utf16Mark } from "./file/identify.ts";
import { readWhole, smallFile } from "./file/read_whole.ts";
import { formatOf, openBinary } from "./file/open_file.ts";
import {
  decodedMemory,
  plainMemory,
  unzippedFile,
} from "./file/plain_source.ts";
import { defaultMaximumSize } from "./file/unpacked_size.ts";
import { regularFileSize, sha256Of } from "../runtime/mod.ts";
import { checkSource, locate } from "./file/locate.ts";
import type { ReadCaptureOptions } from "./options.ts";
import { checkReadOptions, requireSource } from "./option_names.ts";
import { place } from "./place.ts";
import { readLongText, readText } from "./text/read_text.ts";

/**
 * Reads a capture from a file or from bytes: delimited text of nearly any
 * layout, WAV, NPY, NPZ, SigMF, raw numbers, each also in gzip. What had to be
 * assumed is said in `warnings`; `sniffCapture` tells more.
 *
 * @param source Path, file URL, or the bytes of the file.
 * @param options What the file does not say, or says wrongly.
 * @returns The capture, in SI units.
 * @throws {CaptureFormatError} If the file is empty, cut off, not of a known
 * format, or has text where a number belongs; with line and column.
 * @throws {RangeError} If an option does not fit the file.
 *
 * @example
 * ```ts
 * import { readCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const text = "time (ms);monitor (mV);drive (mA)\n0;1,5;40\n1;2,5;41\n";
 * const capture = await readCapture(new TextEncoder().encode(text));
 * expect(capture.samplingRate).toBe(1000);
 * expect(capture.channels[0]?.role).toBe("monitor signal");
 * expect(capture.channels[0]?.samples[1]).toBe(0.0025);
 * ```
 */
export async function readCapture(
  source: string | URL | Uint8Array,
  options: ReadCaptureOptions = {},
): Promise<Capture & Shown> {
  requireSource(source);
  return oneRecord(await readCaptures(source, options), options);
}

/**
 * Reads every record of a file; most files hold one.
 *
 * @param source Path, file URL, or the bytes of the file.
 * @param options What the file does not say, or says wrongly.
 * @returns One capture per record, in the order of the file.
 * @throws {CaptureFormatError} As {@linkcode readCapture}.
 * @throws {RangeError} If an option does not fit the file.
 *
 * @example
 * ```ts
 * import { readCaptures } from "fringebook";
 * import { expect } from "vitest";
 *
 * const text = "time (s),monitor (V)\n0,1\n1,2\n2,3\n3,4\n\n" +
 *   "time (s),monitor (V)\n0,5\n1,6\n2,7\n3,8\n";
 * const captures = await readCaptures(new TextEncoder().encode(text));
 * expect(captures.length).toBe(2);
 * expect(captures[1]?.channels[0]?.samples[0]).toBe(5);
 * ```
 */
export async function readCaptures(
  source: string | URL | Uint8Array,
  options: ReadCaptureOptions = {},
): Promise<(Capture & Shown)[]> {
  requireSource(source);
  if (source instanceof Uint8Array) return parseCaptures(source, options);
  checkSource(source);
  checkReadOptions(options);
  const { maximumSize = defaultMaximumSize } = options;
  const { path, fileName, sigmfMeta } = await locate(source, options);
  const size = await regularFileSize(path);
  if (size > maximumSize) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } whole as it has ${size} bytes, more than ${maximumSize}. Use 'openCaptureStream' to go through it in blocks, or raise 'maximumSize'`,
      { fileName },
    );
  }
  const settings = { ...options, fileName };
  if (
    options.raw === undefined && sigmfMeta === null && await isGzip(path)
  ) return await parseGzip(path, settings);
  if (size > smallFile && sigmfMeta === null) {
    const file = fileSource(path);
    try {
      if (readsInPieces(file, options)) {
        return await parseSource(path, file, settings);
      }
    } finally {
      file.close();
    }
  }
  const { bytes, sha256 } = await readWhole(path, options.sha256 ?? true);
  return parse(bytes, settings, sigmfMeta, { sha256 });
}

async function isGzip(path: string): Promise<boolean> {
  const file = await Deno.open(path, { read: true });
  try {
    const head = new Uint8Array(3);
    return await file.read(head) === 3 && looksLikeGzip(head);
  } finally {
    file.close();
  }
}

/** A gzip file, unpacked piece by piece; its hash is that of the file. */
async function parseGzip(
  path: string,
  options: ReadCaptureOptions,
): Promise<(Capture & Shown)[]> {
  const { maximumSize, sha256 = true, fileName = null } = options;
  const bytes = await unzippedFile(path, maximumSize, fileName);
  const plain = decodedMemory(bytes);
  const file = sha256 ? hashedSource(fileSource(path)) : null;
  try {
    return parsePlain(plain, options, null, () => file?.sha256() ?? null);
  } finally {
    file?.close();
  }
}

/**
 * Whether a file can be read piece by piece; compressed and archived ones are
 * taken into memory first.
 */
function readsInPieces(file: ByteSource, options: ReadCaptureOptions): boolean {
  const head = file.read(0, 512);
  if (head.length === 0) return false;
  if (options.raw !== undefined) {
    return formatOf(file, options) === "raw binary";
  }
  if (looksLikeGzip(head) || utf16Mark(head) !== null) return false;
  const format = formatOf(file, options);
  return format !== "SigMF" && format !== "NPZ";
}

/**
 * The synchronous part of {@linkcode readCapture}: bytes to capture.
 *
 * @param bytes The file.
 * @param options What the file does not say, or says wrongly.
 * @returns The capture, in SI units.
 * @throws {CaptureFormatError} As {@linkcode readCapture}.
 * @throws {RangeError} If an option does not fit the file.
 *
 * @example
 * ```ts
 * import { parseCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bytes = new TextEncoder().encode("monitor (V)\n1\n2\n");
 * const capture = parseCapture(bytes, { samplingRate: 1000 });
 * expect(capture.sampleCount).toBe(2);
 * ```
 */
export function parseCapture(
  bytes: Uint8Array,
  options: ReadCaptureOptions = {},
): Capture & Shown {
  requireBytes(bytes);
  return oneRecord(parseCaptures(bytes, options), options);
}

/**
 * The synchronous part of {@linkcode readCaptures}: bytes to captures.
 *
 * @param bytes The file.
 * @param options What the file does not say, or says wrongly.
 * @returns One capture per record, in the order of the file.
 * @throws {CaptureFormatError} As {@linkcode readCapture}.
 * @throws {RangeError} If an option does not fit the file.
 *
 * @example
 * ```ts
 * import { parseCaptures } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bytes = new TextEncoder().encode("monitor (V)\n1\n2\n");
 * expect(parseCaptures(bytes, { samplingRate: 1000 }).length).toBe(1);
 * ```
 */
export function parseCaptures(
  bytes: Uint8Array,
  options: ReadCaptureOptions = {},
): (Capture & Shown)[] {
  requireBytes(bytes);
  checkReadOptions(options);
  return parse(bytes, options, null, null);
}

function oneRecord(
  captures: readonly (Capture & Shown)[],
  options: ReadCaptureOptions,
): Capture & Shown {
  const { record } = options;
  const capture = captures[record ?? 0];
  if (capture === undefined) {
    throw new RangeError(
      `Cannot read record ${record} as the file has ${captures.length}, counted from 0`,
    );
  }
  if (captures.length === 1 || record !== undefined) return capture;
  return createCapture(capture.channels as ChannelInput[], {
    samplingRate: capture.samplingRate,
    startTime: capture.startTime,
    metadata: { ...capture.metadata },
    source: capture.source,
    warnings: [
      ...capture.warnings,
      warn(
        "several-records",
        `The file holds ${captures.length} records one after the other: only the first was read. Give 'record', or read all with 'readCaptures'`,
      ),
    ],
  });
}

/** Bytes in memory to captures. Bytes that were read here have `read`. */
function parse(
  bytes: Uint8Array,
  options: ReadCaptureOptions,
  sigmfMeta: string | null,
  read: { sha256: string | null } | null,
): (Capture & Shown)[] {
  const { maximumSize, sha256 = true } = options;
  const fileName = options.fileName ?? null;
  if (bytes.length === 0) {
    throw new CaptureFormatError(
      `Cannot read ${
        place(fileName)
      } as it is empty: check that the recorder has written it, and record again`,
      { fileName, byteOffset: 0 },
    );
  }
  const digest = read !== null ? read.sha256 : sha256 ? sha256Of(bytes) : null;
  // Bytes read here are ours alone; those of a caller are never written to.
  const owned = read !== null;
  const plain = options.raw === undefined
    ? plainMemory(bytes, maximumSize, fileName, owned)
    : memorySource(bytes, owned);
  return parsePlain(plain, options, sigmfMeta, () => digest);
}

/** A file that is read, hashed and parsed piece by piece. */
async function parseSource(
  path: string,
  file: ByteSource,
  options: ReadCaptureOptions,
): Promise<(Capture & Shown)[]> {
  const hashed = options.sha256 === false ? null : hashedSource(file);
  const digest = () => hashed?.sha256() ?? null;
  const source = hashed ?? file;
  const fileName = options.fileName ?? null;
  const sourceOf = (): CaptureSource => ({
    fileName,
    sha256: digest(),
    format: "unknown",
  });
  const format = formatOf(source, options);
  if (format === "delimited text") {
    const workers = workersFor(file, options);
    return workers === 0
      ? readText(source, options, fileName, sourceOf)
      : await readLongText(path, source, options, fileName, sourceOf, workers);
  }
  const opened = openBinary(source, format, options, fileName, null);
  const plan = planBinary(opened, options, fileName);
  const columns = file.size < longBinary
    ? readBinary(plan.file, 0, opened.sampleCount, plan.scales)
    : await readBinaryAhead(
      path,
      plan.file,
      plan.scales,
      hashed?.take ?? null,
    );
  return [plan.capture(columns, sourceOf())];
}

/** Bytes of a file of samples from which reading ahead is worth its start. */
const longBinary = 1 << 23;

/**
 * Bytes of a text file from which a second thread saves time for sure: starting
 * it costs as much as parsing 20 MB, and two cores were measured to take as long
 * as one for 40 MB and three quarters of the time for 130 MB.
 */
const longText = 1e8;
/** Most threads that are taken unless asked for. */
const mostThreads = 4;

/** Threads to take beside this one. */
function workersFor(file: ByteSource, options: ReadCaptureOptions): number {
  const { threads } = options;
  if (threads !== undefined) return threads - 1;
  if (file.size < longText) return 0;
  return Math.min(navigator.hardwareConcurrency, mostThreads) - 1;
}

function parsePlain(
  plain: ByteSource,
  options: ReadCaptureOptions,
  sigmfMeta: string | null,
  digest: () => string | null,
): (Capture & Shown)[] {
  const fileName = options.fileName ?? null;
  const sourceOf = (): CaptureSource => ({
    fileName,
    sha256: digest(),
    format: "unknown",
  });
  const format = sigmfMeta === null ? formatOf(plain, options) : "SigMF";
  if (format === "delimited text") {
    return readText(plain, options, fileName, sourceOf);
  }
  const opened = openBinary(plain, format, options, fileName, sigmfMeta);
  const { file, scales, capture } = planBinary(opened, options, fileName);
  const columns = readBinary(file, 0, opened.sampleCount, scales);
  return [capture(columns, sourceOf())];
}

function requireBytes(bytes: unknown): void {
  requireForm(bytes, {
    what: "the bytes of a file",
    is: (value) => value instanceof Uint8Array,
    remedy: "readCapture(…) takes a path",
    awaited: "await Deno.readFile(…)",
  }, "read a capture");
}
