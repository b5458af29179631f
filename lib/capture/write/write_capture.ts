import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireCapture,
  requireText,
} from "../../options/mod.ts";
import { writeWhole } from "../../files/mod.ts";
import { joinBytes } from "../../memory/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import type { Capture } from "../capture.ts";
import type { TextDelimiter } from "../text/sniff.ts";
import { npyParts, npzParts } from "./npy_parts.ts";
import { sigmfArchive, sigmfFiles } from "./sigmf_parts.ts";
import { textParts } from "./text_parts.ts";
import { wavParts, type WavSampleFormat } from "./wav_parts.ts";

/** Formats that are written. */
export type WrittenFormat = "delimited text" | "WAV" | "NPY" | "NPZ" | "SigMF";

/** Options of {@linkcode encodeCapture} and {@linkcode writeCapture}. */
export interface WriteCaptureOptions {
  /**
   * Format; `writeCapture` takes it from the file name: `.csv`, `.txt`, `.tsv`,
   * `.wav`, `.npy`, `.npz`, `.sigmf`, `.sigmf-meta`.
   *
   * @default {"SigMF"}
   */
  format?: WrittenFormat;
  /**
   * Text: character between fields.
   *
   * @default {","}
   */
  delimiter?: TextDelimiter;
  /**
   * Text: decimal mark.
   *
   * @default {"."}
   */
  decimalMark?: "." | ",";
  /**
   * WAV: how samples are stored. Formats other than float64 refuse values that
   * they would round.
   *
   * @default {"float64"}
   */
  sampleFormat?: WavSampleFormat;
  /**
   * WAV: use the 64-bit form RF64 even below 4 GiB.
   *
   * @default {false}
   */
  rf64?: boolean;
  /**
   * SigMF archive: name of the recording inside.
   *
   * @default {"capture"}
   */
  name?: string;
}

export const writeSpec = {
  format: optional(
    optionOf.choice("Format.", [
      "delimited text",
      "WAV",
      "NPY",
      "NPZ",
      "SigMF",
    ]),
    undefined,
    "SigMF, or from the file name",
  ),
  delimiter: optional(
    optionOf.choice("Text: character between fields.", [
      ",",
      ";",
      "\t",
      "|",
      " ",
    ]),
    ",",
  ),
  decimalMark: optional(
    optionOf.choice("Text: decimal mark.", [".", ","]),
    ".",
  ),
  sampleFormat: optional(
    optionOf.choice("WAV: how samples are stored.", [
      "float64",
      "float32",
      "int16",
      "int24",
      "int32",
    ]),
    "float64",
  ),
  rf64: optional(
    optionOf.flag("WAV: use the 64-bit form RF64 even below 4 GiB."),
    false,
  ),
  name: optional(
    optionOf.text("SigMF archive: name of the recording inside."),
    "capture",
  ),
} satisfies Record<keyof WriteCaptureOptions, Option>;

/**
 * Makes the bytes of a file from a capture. Text, WAV (float64), NPZ and SigMF
 * read back exactly: samples, names, roles, units, limits, sampling rate, start
 * time and metadata. NPY holds samples, names and units only. Infinite values
 * are written to text as missing.
 *
 * @param capture The capture.
 * @param options Format and its variants.
 * @returns The bytes of the file.
 * @throws {RangeError} If the format cannot hold the capture.
 *
 * @example
 * ```ts
 * import { createCapture, encodeCapture, parseCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = createCapture([{
 *   name: "monitor",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.of(0.1, 0.2, 0.3),
 * }], { samplingRate: 48e3 });
 * const again = parseCapture(encodeCapture(capture, { format: "WAV" }));
 * expect(again.channels).toEqual(capture.channels);
 * ```
 */
export function encodeCapture(
  capture: Capture,
  options: WriteCaptureOptions = {},
): Uint8Array<ArrayBuffer> {
  const task = "write a capture";
  requireCapture(capture, task);
  readOptions(writeSpec, options, task);
  const { format = "SigMF", name = "capture" } = options;
  return format === "SigMF"
    ? sigmfArchive(capture, name)
    : joinBytes([...parts(capture, format, options)], task);
}

function parts(
  capture: Capture,
  format: Exclude<WrittenFormat, "SigMF">,
  options: WriteCaptureOptions,
): Generator<Uint8Array<ArrayBuffer>> {
  const {
    delimiter = ",",
    decimalMark = ".",
    sampleFormat = "float64",
    rf64 = false,
  } = options;
  switch (format) {
    case "delimited text":
      return textParts(capture, delimiter, decimalMark);
    case "WAV":
      return wavParts(capture, sampleFormat, rf64);
    case "NPY":
      return npyParts(capture);
    case "NPZ":
      return npzParts(capture);
  }
}

const formats = new Map<string, WrittenFormat>([
  ["csv", "delimited text"],
  ["tsv", "delimited text"],
  ["txt", "delimited text"],
  ["wav", "WAV"],
  ["npy", "NPY"],
  ["npz", "NPZ"],
  ["sigmf", "SigMF"],
  ["sigmf-meta", "SigMF"],
]);

/**
 * Writes a capture to a file: first under a temporary name beside it, then
 * renamed, so that no half-written file is left; folders on the way are made. A
 * name ending in `.gz` is compressed.
 *
 * @param path File to write; its ending says the format.
 * @param capture The capture.
 * @param options Format and its variants.
 * @throws {RangeError} If the ending says no format, or the format cannot hold
 * the capture.
 * @throws {SaveError} If the file cannot be saved: a full disk, a folder that
 * cannot be written to.
 *
 * @example
 * ```ts
 * import { createCapture, readCapture, writeCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const folder = await Deno.makeTempDir();
 * const capture = createCapture([{
 *   name: "monitor",
 *   role: "monitor signal",
 *   unit: "V",
 *   samples: Float64Array.of(0.1, 0.2, 0.3),
 * }], { samplingRate: 1e6 });
 * await writeCapture(`${folder}/first.csv`, capture);
 * const again = await readCapture(`${folder}/first.csv`);
 * expect(again.channels).toEqual(capture.channels);
 * await Deno.remove(folder, { recursive: true });
 * ```
 */
export async function writeCapture(
  path: string,
  capture: Capture,
  options: WriteCaptureOptions = {},
): Promise<void> {
  const task = "write a capture";
  requireText(path, "path", task);
  requireCapture(capture, task);
  readOptions(writeSpec, options, task);
  const isGzip = path.endsWith(".gz");
  const plain = isGzip ? path.slice(0, -3) : path;
  const ending = /\.([\w-]+)$/.exec(plain)?.[1]?.toLowerCase() ?? "";
  const format = options.format ?? formats.get(ending);
  if (format === undefined) {
    throw new RangeError(
      `Cannot write '${path}' as its ending says no format: use ${
        [...formats.keys()].map((end) => `.${end}`).join(", ")
      }, or give 'format'`,
    );
  }
  const settings: WriteCaptureOptions = {
    name: plain.replace(/^.*[\\/]/, "").replace(/\.[^.]*$/, ""),
    ...(ending === "tsv" ? { delimiter: "\t" } : {}),
    ...options,
    format,
  };
  if (format === "SigMF" && ending === "sigmf-meta") {
    const { meta, data } = sigmfFiles(capture);
    await writeWhole(plain.replace(/-meta$/, "-data"), data);
    await writeWhole(plain, meta);
  } else if (isGzip) {
    await writeWhole(path, await gzipped(encodeCapture(capture, settings)));
  } else if (format === "SigMF") {
    await writeWhole(path, encodeCapture(capture, settings));
  } else {
    await writeWhole(path, parts(capture, format, settings));
  }
}

/** Bytes that are compressed between two checkpoints: some ms of work. */
const pieceSize = 1 << 17;

/** Compressed piece by piece, so that it can be interrupted. */
async function gzipped(
  bytes: Uint8Array<ArrayBuffer>,
): Promise<Uint8Array<ArrayBuffer>> {
  function* pieces() {
    for (let at = 0; at < bytes.length; at += pieceSize) {
      checkpoint(at / bytes.length, "compress");
      yield bytes.subarray(at, at + pieceSize);
    }
  }
  const packed: Uint8Array[] = [];
  const stream = ReadableStream.from(pieces())
    .pipeThrough(new CompressionStream("gzip"));
  for await (const piece of stream) packed.push(piece);
  return joinBytes(packed, "compress");
}
