import { createHash } from "node:crypto";
import { CaptureFormatError } from "../errors/mod.ts";
import type { Capture, CaptureSource } from "./capture.ts";
import type { ReadCaptureOptions } from "./options.ts";
import { readText } from "./text/read_text.ts";
import { place } from "./text/table_parser.ts";
import { looksLikeWav, readWav } from "./wav/read_wav.ts";

/**
 * Reads a capture from a file or from bytes: delimited text (comma, semicolon,
 * tab or space; decimal point or comma; heading with names and units;
 * `key: value` lines; with a time column or a sample interval) or WAV. What had
 * to be assumed is said in `warnings`.
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
): Promise<Capture> {
  const bytes = source instanceof Uint8Array
    ? source
    : await Deno.readFile(source);
  const fileName = source instanceof Uint8Array
    ? options.fileName ?? null
    : baseName(source);
  return parseCapture(bytes, { ...options, fileName });
}

/** The synchronous part of {@linkcode readCapture}: bytes to capture. */
export function parseCapture(
  bytes: Uint8Array,
  options: ReadCaptureOptions = {},
): Capture {
  const fileName = options.fileName ?? null;
  if (bytes.length === 0) {
    throw new CaptureFormatError(
      `Cannot read ${place(fileName)} as it is empty`,
      { fileName, byteOffset: 0 },
    );
  }
  const source: CaptureSource = {
    fileName,
    sha256: createHash("sha256").update(bytes).digest("hex"),
    format: "unknown",
  };
  const format = options.format ??
    (looksLikeWav(bytes) ? "WAV" : "delimited text");
  return format === "WAV"
    ? readWav(bytes, options, source)
    : readText(bytes, options, source);
}

function baseName(path: string | URL): string {
  const text = path instanceof URL ? decodeURIComponent(path.pathname) : path;
  return text.split(/[\\/]/).at(-1) ?? text;
}
