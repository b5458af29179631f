/** Lock files of a project: that of every package first. */
const lockFiles = ["lib/runtime/packages.lock", "deno.lock"];

/**
 * Copies the lock file of a folder, so that a session keeps to the versions in
 * it and cannot change it.
 *
 * @returns Path of the copy; `null` where there is no lock file.
 */
export async function copyLockFile(folder: string): Promise<string | null> {
  for (const name of lockFiles) {
    try {
      const content = await Deno.readFile(`${folder}/${name}`);
      const copy = await Deno.makeTempFile({ suffix: ".lock" });
      await Deno.writeFile(copy, content);
      return copy;
    } catch (error) {
      if (!(error instanceof Deno.errors.NotFound)) throw error;
    }
  }
  return null;
}
