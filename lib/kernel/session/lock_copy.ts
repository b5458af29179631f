/**
 * Copies the lock file of a folder, so that a session keeps to the versions in
 * it and cannot change it.
 *
 * @returns Path of the copy; `null` where there is no lock file.
 */
export async function copyLockFile(folder: string): Promise<string | null> {
  try {
    const copy = await Deno.makeTempFile({ suffix: ".lock" });
    await Deno.copyFile(`${folder}/deno.lock`, copy);
    return copy;
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
}
