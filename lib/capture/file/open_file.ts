import { CaptureFormatError } from "../../errors/mod.ts";
import { openRaw } from "../binary/open_raw.ts";
import { openNpy } from "../numpy/open_npy.ts";
import { openNpz } from "../numpy/open_npz.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { place } from "../place.ts";
import { openSigmf, openSigmfArchive } from "../sigmf/open_sigmf.ts";
import { openWav } from "../wav/open_wav.ts";
import type { ByteSource } from "./byte_source.ts";
import { type CaptureFormat, identifyFormat } from "./identify.ts";
import type { OpenedBinary } from "./opened_file.ts";

/** Format that the caller gave or that the first bytes show. */
export function formatOf(
  source: ByteSource,
  options: ReadCaptureOptions,
): CaptureFormat {
  if (options.format !== undefined) return options.format;
  if (options.raw !== undefined) return "raw binary";
  return identifyFormat(source.read(0, 512));
}

/** Opens a file of any format but text. */
export function openBinary(
  source: ByteSource,
  format: Exclude<CaptureFormat, "delimited text">,
  options: ReadCaptureOptions,
  fileName: string | null,
  sigmfMeta: string | null,
): OpenedBinary {
  const { maximumSize, raw } = options;
  switch (format) {
    case "WAV":
      return openWav(source, fileName);
    case "NPY":
      return openNpy(source, fileName);
    case "NPZ":
      return openNpz(source, fileName, maximumSize);
    case "SigMF":
      return sigmfMeta === null
        ? openSigmfArchive(source, fileName)
        : openSigmf(sigmfMeta, source, fileName);
    case "raw binary":
      if (raw === undefined) {
        throw new CaptureFormatError(
          `Cannot read ${
            place(fileName)
          } as raw samples as their type is not said: give 'raw', such as { type: "int16", channelCount: 2 }`,
          { fileName },
        );
      }
      return openRaw(source, fileName, raw);
  }
}
