import { basename } from "@std/path/basename";
import { dirname } from "@std/path/dirname";
import { join } from "@std/path/join";
import { temporaryName } from "./leftovers.ts";
import { writeSynced } from "./write_synced.ts";

/**
 * Writes a file that must not exist yet, whole or not at all, and waits until it
 * lies on the disk: to a temporary name first, then under its own in one step.
 *
 * @param path Where to.
 * @param text What.
 * @param mode Permissions, such as 0o600.
 * @throws {Deno.errors.AlreadyExists} If there is a file of that name.
 * @throws {Error} What the system says where it cannot be written; then nothing
 * is left behind.
 */
export async function writeNew(
  path: string,
  text: string,
  mode = 0o644,
): Promise<void> {
  const folder = dirname(path);
  const temporary = join(folder, temporaryName(basename(path)));
  try {
    await writeSynced(temporary, text, mode);
    // A link fails where the name is taken; a rename would replace the file.
    await Deno.link(temporary, path).catch(async (error) => {
      if (error instanceof Deno.errors.AlreadyExists) throw error;
      // File systems without links: claim the name, then take it over.
      (await Deno.open(path, { write: true, createNew: true })).close();
      await Deno.rename(temporary, path);
    });
  } finally {
    await Deno.remove(temporary).catch(() => {});
  }
  await syncFolder(folder);
}

/** The name as well is to outlive a power cut; some systems sync no folders. */
async function syncFolder(folder: string): Promise<void> {
  try {
    const file = await Deno.open(folder, { read: true });
    await file.sync().finally(() => file.close());
  } catch {
    // The file itself is on the disk.
  }
}
