import { regularFileSize } from "../../runtime/mod.ts";
import type { ReadCaptureOptions } from "../options.ts";
import { datasetName, readMeta } from "../sigmf/open_sigmf.ts";
import { memorySource } from "./byte_source.ts";

/** Where the samples of a capture lie. */
export interface Located {
  /** File with the samples. */
  readonly path: string;
  /** Name for messages and the source, without folder. */
  readonly fileName: string;
  /** Text of the SigMF metadata beside the samples; `null` if none. */
  readonly sigmfMeta: string | null;
}

/** Longest SigMF metadata file that is read, in bytes. */
const longestMeta = 1 << 24;

/**
 * Finds the files of a capture: for SigMF metadata its samples and the other way
 * round, always in the same folder.
 */
export async function locate(
  source: string | URL,
  options: ReadCaptureOptions,
): Promise<Located> {
  const path = source instanceof URL
    ? (await import("@std/path")).fromFileUrl(source)
    : source;
  const cut = Math.max(path.lastIndexOf("/"), path.lastIndexOf("\\")) + 1;
  const folder = path.slice(0, cut);
  const name = path.slice(cut);
  const fileName = options.fileName ?? name;
  const format = options.format ?? "SigMF";
  if (format === "SigMF" && name.endsWith(".sigmf-meta")) {
    const sigmfMeta = await readMetaFile(path);
    const samples = datasetName(sigmfMeta, fileName) ??
      name.replace(/-meta$/, "-data");
    return { path: folder + samples, fileName, sigmfMeta };
  }
  if (format === "SigMF" && name.endsWith(".sigmf-data")) {
    const meta = folder + name.replace(/-data$/, "-meta");
    const sigmfMeta = await readMetaFile(meta);
    return { path, fileName, sigmfMeta };
  }
  return { path, fileName, sigmfMeta: null };
}

/** Refuses anything but a path or a URL. */
export function checkSource(source: unknown): void {
  if (typeof source === "string" || source instanceof URL) return;
  throw new TypeError(
    `Cannot read a capture from a value of type ${
      source === null ? "null" : typeof source
    }: give a path, a file URL or the bytes as a Uint8Array`,
  );
}

async function readMetaFile(path: string): Promise<string> {
  const bytes = await regularFileSize(path) > longestMeta
    ? new Uint8Array(0)
    : await Deno.readFile(path);
  return readMeta(memorySource(bytes));
}
