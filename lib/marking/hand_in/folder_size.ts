import { join } from "@std/path";

/** Bytes of the files of a folder; at most so many files are looked at. */
export function folderSize(
  folder: string,
  most: number,
): { bytes: number; files: number } {
  let bytes = 0;
  let files = 0;
  try {
    for (const { name, isFile, isDirectory } of Deno.readDirSync(folder)) {
      if (++files > most) break;
      const path = join(folder, name);
      if (isFile) bytes += Deno.lstatSync(path).size;
      else if (isDirectory) {
        const inner = folderSize(path, most - files);
        bytes += inner.bytes;
        files += inner.files;
      }
    }
  } catch (error) {
    // What is written may be gone again at the next look
    if (!(error instanceof Deno.errors.NotFound)) throw error;
  }
  return { bytes, files };
}
