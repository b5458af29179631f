import {
  createResult,
  provenance,
  type Result,
  type Shown,
} from "../result/mod.ts";
import type { ReadingAssumption } from "./file/opened_file.ts";
import type { ReadCaptureOptions } from "./options.ts";
import { openCaptureStream } from "./stream.ts";
import { checkReadOptions, requireSource } from "./option_names.ts";

/** Result of {@linkcode sniffCapture}. */
export interface CaptureSniff extends Result {
  /** Chooses the presenter. */
  readonly kind: "capture.sniff";
  /** Format name, such as `"WAV"`. */
  readonly format: string;
  /** Variant, such as `"semicolon-delimited, decimal comma"`. */
  readonly variant: string;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Samples per channel; `null` for text, which must be read to be counted. */
  readonly sampleCount: number | null;
  /** Channels as they will be read. */
  readonly channels: readonly {
    readonly name: string;
    readonly role: string;
    /** SI unit without prefix. */
    readonly unit: string;
    /** Factor from the file's numbers to `unit`. */
    readonly scale: number;
  }[];
  /** What was decided, why, and the option that overrides it. */
  readonly assumptions: readonly ReadingAssumption[];
  /** What the figures need. */
  readonly diagnostics: {
    /** The first samples of each channel, in its unit; at most 16. */
    readonly firstSamples: readonly (readonly number[])[];
  };
}

/**
 * Looks at a file without reading all of it and says how it would be read:
 * format, channels, sampling rate, and every assumption with the option that
 * overrides it.
 *
 * @param source Path, file URL, or the bytes of the file.
 * @param options As for `readCapture`.
 * @returns The report.
 * @throws {CaptureFormatError} If the file cannot be read at all.
 *
 * @example
 * ```ts
 * import { sniffCapture } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * const bytes = new TextEncoder().encode("time (s);A (V)\n0,0;1\n0,1;2\n0,2;3\n");
 * const report = await sniffCapture(bytes);
 * expect(report.variant).toBe("semicolon-delimited, decimal comma");
 * expect(report.assumptions.map(({ option }) => option)).toContain("delimiter");
 * ```
 */
export async function sniffCapture(
  source: string | URL | Uint8Array,
  options: ReadCaptureOptions = {},
): Promise<CaptureSniff & Shown> {
  requireSource(source);
  checkReadOptions(options);
  // Not `using`, which not all engines that can run this library know.
  const stream = await openCaptureStream(source, options);
  try {
    const fileName = source instanceof Uint8Array
      ? options.fileName ?? null
      : String(source).replace(/^.*[\\/]/, "");
    const first = await stream.blocks({ blockLength: 16 }).next();
    const channels = first.done ? [] : first.value.capture.channels;
    const doubts = first.done ? [] : first.value.capture.warnings;
    return createResult<CaptureSniff>({
      kind: "capture.sniff",
      format: stream.format,
      variant: stream.variant,
      samplingRate: stream.samplingRate,
      sampleCount: stream.sampleCount,
      channels: channels.map(({ name, role, unit, scale }) => ({
        name,
        role,
        unit,
        scale,
      })),
      assumptions: stream.assumptions,
      warnings: [...stream.warnings, ...doubts],
      provenance: provenance({
        method: "sniffCapture",
        captures: [{ fileName, sha256: null }],
      }),
      diagnostics: {
        firstSamples: channels.map(({ samples }) => Array.from(samples)),
      },
    });
  } finally {
    stream[Symbol.dispose]();
  }
}
