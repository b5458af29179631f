import { dirname, join } from "@std/path";

const prefix = "fringebook-lock-";

/** Lock files of a project: that of every package first. */
const lockFiles = ["lib/runtime/packages.lock", "deno.lock"];

/**
 * Copies the lock file of a folder, so that a session keeps to the versions in
 * it and cannot change it. The copy has a folder of its own, as the runtime
 * renames what it writes. Copies that killed processes left are removed.
 *
 * @returns Path of the copy; `null` where there is no lock file.
 */
export async function copyLockFile(folder: string): Promise<string | null> {
  for (const name of lockFiles) {
    try {
      const content = await Deno.readFile(`${folder}/${name}`);
      const place = await Deno.makeTempDir({ prefix: `${prefix}${Deno.pid}-` });
      const copy = join(place, "deno.lock");
      await Deno.writeFile(copy, content);
      void removeLeft(dirname(place));
      return copy;
    } catch (error) {
      if (!(error instanceof Deno.errors.NotFound)) throw error;
    }
  }
  return null;
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
