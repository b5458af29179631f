import { basename, join } from "@std/path";

/**
 * Makes a folder that was not there: `name`, else `name-2`, `name-3`, …, so
 * that what a person wrote in an earlier one stays.
 *
 * @param parent Folder in which it is made.
 * @param name Its name.
 * @returns Its path and the name that it got.
 */
export async function freshFolder(
  parent: string,
  name: string,
): Promise<{ folder: string; name: string }> {
  await Deno.mkdir(parent, { recursive: true });
  for (let count = 1;; count++) {
    const own = count === 1 ? name : `${name}-${count}`;
    const folder = join(parent, own);
    try {
      await Deno.mkdir(folder);
      return { folder, name: own };
    } catch (error) {
      if (!(error instanceof Deno.errors.AlreadyExists)) throw error;
    }
  }
}

/**
 * Copies a file, and where it is the description of a SigMF pair its samples:
 * a notebook may read its own folder.
 *
 * @param file The file.
 * @param folder Where to.
 */
export async function copyWith(file: string, folder: string): Promise<void> {
  await Deno.copyFile(file, join(folder, basename(file)));
  if (!file.endsWith(".sigmf-meta")) return;
  const samples = file.replace(/meta$/, "data");
  await Deno.copyFile(samples, join(folder, basename(samples)));
}

/** `2026-03-14-my` for `my.csv` on that day. */
export function datedName(file: string): string {
  const stem = basename(file).replace(/(\.[^.]{1,12})?(\.gz)?$/, "");
  return `${new Date().toISOString().slice(0, 10)}-${stem || "capture"}`;
}
