import { join } from "@std/path/join";

/** How long a temporary of a process that is gone is left alone, in ms. */
const settling = 2000;
/** How long any temporary is left alone: another machine may write it, in ms. */
const longest = 3_600_000;

/** Name of the temporary that a file is written to first, beside it. */
export function temporaryName(name: string): string {
  return `.${name}.${Deno.pid}.${crypto.randomUUID().slice(0, 8)}.part`;
}

/**
 * Removes what killed runs left in a folder: files and folders that were being
 * written, whose process is gone.
 *
 * @param folder The folder; it need not be there.
 * @returns Names of what was removed.
 */
export async function removeLeftovers(folder: string): Promise<string[]> {
  const removed: string[] = [];
  try {
    for await (const { name } of Deno.readDir(folder)) {
      const pid = /^\..+\.(\d+)\.[0-9a-f]{8}\.part$/.exec(name)?.[1];
      if (pid === undefined) continue;
      const path = join(folder, name);
      const { mtime } = await Deno.lstat(path);
      const age = Date.now() - (mtime?.getTime() ?? 0);
      const left = Deno.build.os === "linux" && age > settling &&
        !await isAlive(pid);
      if (!left && age < longest) continue;
      await Deno.remove(path, { recursive: true });
      removed.push(name);
    }
  } catch (error) {
    if (!isNotThere(error)) throw error;
  }
  return removed;
}

async function isAlive(pid: string): Promise<boolean> {
  try {
    await Deno.lstat(`/proc/${pid}`);
    return true;
  } catch (error) {
    return !isNotThere(error);
  }
}

function isNotThere(error: unknown): boolean {
  return error instanceof Deno.errors.NotFound;
}
