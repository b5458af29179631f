import { dirname, join } from "@std/path";

const prefix = "fringebook-lock-";

/**
 * Copies the lock file of a folder, so that a session keeps to the versions in
 * it and cannot change it. The copy has a folder of its own, as the runtime
 * renames what it writes. Copies that killed processes left are removed.
 *
 * @returns Path of the copy; `null` where there is no lock file.
 */
export async function copyLockFile(folder: string): Promise<string | null> {
  const place = await Deno.makeTempDir({ prefix: `${prefix}${Deno.pid}-` });
  const copy = join(place, "deno.lock");
  void removeLeft(dirname(place));
  try {
    await Deno.copyFile(`${folder}/deno.lock`, copy);
    return copy;
  } catch (error) {
    await Deno.remove(place);
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
}

/** Removes a copy with its folder. */
export async function removeLockFile(copy: string): Promise<void> {
  await Deno.remove(dirname(copy), { recursive: true }).catch(() => {});
}

async function removeLeft(folder: string): Promise<void> {
  if (Deno.build.os !== "linux") return;
  try {
    for await (const { name } of Deno.readDir(folder)) {
      if (!name.startsWith(prefix)) continue;
      const process = parseInt(name.slice(prefix.length));
      const lives = await Deno.stat(`/proc/${process}`).then(
        () => true,
        () => false,
      );
      if (!lives) await removeLockFile(join(folder, name, "deno.lock"));
    }
  } catch {
    // Others clean up, too.
  }
}
