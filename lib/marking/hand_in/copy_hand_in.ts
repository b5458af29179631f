import { join } from "@std/path";
import { cryptoModule } from "../../runtime/mod.ts";
import { type HandInLimits, mostFiles } from "./limits.ts";

/** A hand-in that cannot be run; the message says why. */
export class HandInError extends Error {
  override readonly name = "HandInError";
}

/** What a hand-in holds. */
export interface HandInFiles {
  /** SHA-256 of each file, by its path within the hand-in. */
  readonly files: Readonly<Record<string, string>>;
  /** SHA-256 of all names and files. */
  readonly fingerprint: string;
}

/**
 * Copies the files and folders of a hand-in, but no links, pipes or devices: a
 * link could lead anywhere. Sizes are looked at before anything is read.
 *
 * @param from Folder of the hand-in.
 * @param to Folder of the copy; it is there and empty.
 * @param notebook File name of the notebook.
 * @param limits Sizes.
 * @returns What was copied.
 * @throws {HandInError} If it is too large, or the notebook is no file.
 */
export async function copyHandIn(
  from: string,
  to: string,
  notebook: string,
  limits: HandInLimits,
): Promise<HandInFiles> {
  const found = await lookThrough(from, limits);
  const size = found.get(notebook);
  if (size === undefined) {
    throw new HandInError(
      await kindOf(join(from, notebook)) === "nothing"
        ? `there is no '${notebook}'`
        : `'${notebook}' is a ${await kindOf(join(from, notebook))}, no file`,
    );
  }
  if (size > limits.notebook * 1e6) {
    throw new HandInError(
      `the notebook has ${
        (size / 1e6).toFixed(0)
      } MB, at most ${limits.notebook} are read: clear its outputs`,
    );
  }
  const files: Record<string, string> = {};
  for (const path of [...found.keys()].sort()) {
    const target = join(to, path);
    if (path.includes("/")) {
      await Deno.mkdir(target.slice(0, target.lastIndexOf("/")), {
        recursive: true,
      });
    }
    files[path] = await copyFile(join(from, path), target, found.get(path)!);
  }
  const hash = cryptoModule().createHash("sha256");
  hash.update(JSON.stringify(Object.entries(files)));
  return { files, fingerprint: hash.digest("hex") };
}

/** Paths of all plain files with their sizes, in bytes. */
async function lookThrough(
  folder: string,
  limits: HandInLimits,
): Promise<Map<string, number>> {
  const found = new Map<string, number>();
  const folders = [""];
  let count = 0;
  let bytes = 0;
  for (let inner = folders.pop(); inner !== undefined; inner = folders.pop()) {
    for await (const entry of Deno.readDir(join(folder, inner))) {
      if (++count > mostFiles) {
        throw new HandInError(`it holds more than ${mostFiles} files`);
      }
      const path = inner === "" ? entry.name : `${inner}/${entry.name}`;
      if (entry.isDirectory) folders.push(path);
      if (!entry.isFile) continue;
      const { size } = await Deno.lstat(join(folder, path));
      bytes += size;
      found.set(path, size);
    }
  }
  if (bytes > limits.disk * 1e6) {
    throw new HandInError(
      `it has ${(bytes / 1e6).toFixed(0)} MB, at most ${limits.disk} are taken`,
    );
  }
  return found;
}

/** Copies a file block by block, no more of it than was seen. */
async function copyFile(
  from: string,
  to: string,
  size: number,
): Promise<string> {
  using source = await Deno.open(from);
  using target = await Deno.open(to, { write: true, createNew: true });
  const hash = cryptoModule().createHash("sha256");
  const block = new Uint8Array(1 << 20);
  for (let rest = size; rest > 0;) {
    const count = await source.read(block.subarray(0, Math.min(rest, 1 << 20)));
    if (count === null) break;
    const part = block.subarray(0, count);
    hash.update(part);
    for (let at = 0; at < count;) at += await target.write(part.subarray(at));
    rest -= count;
  }
  return hash.digest("hex");
}

async function kindOf(path: string): Promise<string> {
  try {
    const { isDirectory, isSymlink, isFile } = await Deno.lstat(path);
    if (isFile) return "file";
    return isDirectory ? "folder" : isSymlink ? "link" : "pipe or device";
  } catch {
    return "nothing";
  }
}
