import type { ReadCaptureOptions } from "../options.ts";
import type { ChannelRole } from "../capture.ts";
import { checkReadOptions } from "../option_names.ts";
import { BinaryDecoder } from "./binary_decoder.ts";
import { TextDecoderOfLines } from "./text_decoder.ts";
import { looksLikeWav } from "../wav/open_wav.ts";

/** Samples that some bytes held. */
export interface DecodedSamples {
  /** One array per channel, in the units of the channels. */
  readonly samples: readonly Float64Array[];
  /** Lines that were no samples; a missing value stands for each. */
  readonly garbage: number;
}

/** What the first bytes tell. */
export interface IncomingHead {
  /** Format, such as `"WAV"`. */
  readonly format: string;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** The channels, named and scaled as for `readCapture`. */
  readonly channels: readonly IncomingChannel[];
}

/** A channel of samples that come in. */
export interface IncomingChannel {
  /** Its name. */
  readonly name: string;
  /** What it records. */
  readonly role: ChannelRole;
  /** SI unit of the samples. */
  readonly unit: string;
  /** Limits of the digitiser, in `unit`; `null` where they are not known. */
  readonly fullScale: { low: number; high: number } | null;
}

/** Turns bytes into samples as they come in. */
export interface ByteDecoder {
  /** What the first bytes told; `null` until enough of them are there. */
  readonly head: IncomingHead | null;
  /**
   * Takes bytes in.
   *
   * @throws {CaptureFormatError} If they are of no format that is known here.
   */
  push(bytes: Uint8Array): DecodedSamples;
}

/**
 * Makes a decoder for bytes that come in little by little, from a recorder, a
 * pipe, a line or a file that grows: WAV, bare numbers where `raw` says so, else
 * lines of text. Names, units, roles and scales are those of `readCapture`.
 *
 * @param options As for `readCapture`; text without a time column and bare
 * numbers need `samplingRate`.
 * @returns The decoder.
 *
 * @example
 * ```ts
 * import { createByteDecoder } from "fringebook/capture";
 * import { expect } from "vitest";
 *
 * const decoder = createByteDecoder({
 *   raw: { type: "int16", channelCount: 2 },
 *   samplingRate: 48e3,
 * });
 * const { samples } = decoder.push(Uint8Array.of(1, 0, 2, 0, 3, 0, 4));
 * expect(samples.map((channel) => [...channel])).toEqual([[1], [2]]);
 * ```
 */
export function createByteDecoder(
  options: ReadCaptureOptions = {},
): ByteDecoder {
  checkReadOptions(options);
  if (options.raw !== undefined) return new BinaryDecoder(options);
  let waiting = new Uint8Array(0);
  let chosen: ByteDecoder | null = null;
  return {
    get head() {
      return chosen?.head ?? null;
    },
    push(bytes) {
      if (chosen !== null) return chosen.push(bytes);
      const joined = new Uint8Array(waiting.length + bytes.length);
      joined.set(waiting);
      joined.set(bytes, waiting.length);
      waiting = joined;
      if (waiting.length < 12) return { samples: [], garbage: 0 };
      chosen = looksLikeWav(waiting)
        ? new BinaryDecoder(options)
        : new TextDecoderOfLines(options);
      return chosen.push(waiting);
    },
  };
}
