import { looksLikeNpy } from "../numpy/npy_header.ts";
import { looksLikeZip } from "../numpy/zip.ts";
import { looksLikeTar } from "../sigmf/tar.ts";
import { looksLikeWav } from "../wav/open_wav.ts";

/** Formats that are read. */
export type CaptureFormat =
  | "delimited text"
  | "WAV"
  | "NPY"
  | "NPZ"
  | "SigMF"
  | "raw binary";

/** Finds the format from the first bytes; text where nothing else fits. */
export function identifyFormat(head: Uint8Array): CaptureFormat {
  if (looksLikeWav(head)) return "WAV";
  if (looksLikeNpy(head)) return "NPY";
  if (looksLikeZip(head)) return "NPZ";
  if (looksLikeTar(head)) return "SigMF";
  return "delimited text";
}

/** Whether the bytes begin like a gzip file (RFC 1952). */
export function looksLikeGzip(head: Uint8Array): boolean {
  return head[0] === 0x1f && head[1] === 0x8b && head[2] === 8;
}

/** Encoding of a UTF-16 text by its byte-order mark; `null` if none. */
export function utf16Mark(head: Uint8Array): "utf-16le" | "utf-16be" | null {
  if (head[0] === 0xff && head[1] === 0xfe) return "utf-16le";
  if (head[0] === 0xfe && head[1] === 0xff) return "utf-16be";
  return null;
}
