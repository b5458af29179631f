/** Our route: a file to a capture. */
import { readCapture } from "fringebook";
import type { ReadCaptureOptions } from "fringebook";

/** Reads `path` with the options of `readCapture`. */
export function read(
  { path, options }: { path: string; options: ReadCaptureOptions },
): () => Promise<unknown> {
  return () => readCapture(path, options);
}
