import { dirname, fromFileUrl, join } from "@std/path";
import type { Kernelspec } from "./kernelspec.ts";

/** Files of our own beside `kernel.json`. */
export const ICON_FILES = [
  "logo-32x32.png",
  "logo-64x64.png",
  "logo-svg.svg",
] as const;

const NAME = /^[A-Za-z0-9._-]+$/;

/** The folder of a kernelspec under a folder of Jupyter data. */
export function kernelspecFolder(dataFolder: string, name: string): string {
  if (!NAME.test(name) || name === "." || name === "..") {
    throw new RangeError(
      `Cannot name the kernel "${name}": only letters, digits, '-', '.' and '_' are allowed`,
    );
  }
  return join(dataFolder, "kernels", name.toLowerCase());
}

async function exists(path: string): Promise<boolean> {
  try {
    await Deno.lstat(path);
    return true;
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return false;
    throw error;
  }
}

/**
 * Writes a kernelspec and its icons. The folder is prepared beside its place and
 * then renamed, so that nobody ever sees half of it.
 *
 * @param spec What to write to `kernel.json`.
 * @param options Folder of Jupyter data, name, and whether to replace.
 * @returns The folder of the kernelspec.
 * @throws {Error} If a kernel of that name is there and `force` is false.
 */
export async function installKernelspec(
  spec: Kernelspec,
  options: { dataFolder: string; name: string; force: boolean },
): Promise<string> {
  const { dataFolder, name, force } = options;
  const folder = kernelspecFolder(dataFolder, name);
  const isThere = await exists(folder);
  if (isThere && !force) {
    throw new Error(
      `Cannot install the kernel as '${folder}' exists. Use --force to replace it, or another --name`,
    );
  }
  await Deno.mkdir(dirname(folder), { recursive: true });
  const draft = await Deno.makeTempDir({
    dir: dirname(folder),
    prefix: `.${name.toLowerCase()}-`,
  });
  try {
    // Readable by all users of a shared hub
    await Deno.chmod(draft, 0o755).catch(() => {});
    await Deno.writeTextFile(
      join(draft, "kernel.json"),
      `${JSON.stringify(spec, null, 2)}\n`,
    );
    for (const file of ICON_FILES) {
      const icon = new URL(`./icons/${file}`, import.meta.url);
      await Deno.copyFile(fromFileUrl(icon), join(draft, file));
    }
    for await (const { name } of Deno.readDir(draft)) {
      await Deno.chmod(join(draft, name), 0o644).catch(() => {});
    }
    if (isThere) await Deno.remove(folder, { recursive: true });
    await Deno.rename(draft, folder);
  } catch (error) {
    await Deno.remove(draft, { recursive: true }).catch(() => {});
    throw error;
  }
  return folder;
}

/**
 * Removes a kernelspec of ours.
 *
 * @param dataFolder Folder of Jupyter data.
 * @param name Name of the kernel.
 * @returns The folder that was removed.
 * @throws {Error} If there is none, or it is not ours.
 */
export async function uninstallKernelspec(
  dataFolder: string,
  name: string,
): Promise<string> {
  const folder = kernelspecFolder(dataFolder, name);
  let text: string;
  try {
    text = await Deno.readTextFile(join(folder, "kernel.json"));
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    throw new Error(
      `Cannot uninstall the kernel as '${folder}' is not a kernel. Give the place where it was installed, with --user, --sys-prefix or --prefix`,
    );
  }
  if (!/kernel[\\/]+launch[\\/]+main\.ts/.test(text)) {
    throw new Error(
      `Cannot uninstall the kernel in '${folder}' as it is not one of ours`,
    );
  }
  await Deno.remove(folder, { recursive: true });
  return folder;
}
