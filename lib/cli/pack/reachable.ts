import { dirname, join } from "@std/path";

/** The files of a package that its doors lead to. */
export interface Reachable {
  /** Modules and their types. */
  readonly files: readonly string[];
  /** Removes all other modules; what is no module stays. */
  readonly removeOthers: () => Promise<void>;
}

/** Relative names in a module: imports, and files beside it by `new URL`. */
const relative = /"(\.{1,2}\/[^"]+?\.(?:js|d\.ts))"/g;

/**
 * Follows the modules of a package from its doors.
 *
 * @param folder The package.
 * @param doors Paths of the doors in it.
 */
export async function reachable(
  folder: string,
  doors: readonly string[],
): Promise<Reachable> {
  const files = new Set<string>();
  const open = doors.map((door) => join(folder, door));
  for (let path = open.pop(); path !== undefined; path = open.pop()) {
    if (files.has(path)) continue;
    const text = await Deno.readTextFile(path).catch(() => null);
    if (text === null) continue;
    files.add(path);
    if (path.endsWith(".js") && !path.endsWith(".d.ts")) {
      open.push(path.replace(/\.js$/, ".d.ts"));
    }
    for (const [, name] of text.matchAll(relative)) {
      open.push(join(dirname(path), name!));
    }
  }
  return {
    files: [...files].sort(),
    removeOthers: async () => await removeOthers(join(folder, "lib"), files),
  };
}

async function removeOthers(
  folder: string,
  kept: ReadonlySet<string>,
): Promise<void> {
  for await (const { name, isDirectory } of Deno.readDir(folder)) {
    const path = join(folder, name);
    if (isDirectory) await removeOthers(path, kept);
    else if (/\.(js|d\.ts)$/.test(name) && !kept.has(path)) {
      await Deno.remove(path);
    }
  }
  // A folder that has become empty goes.
  await Deno.remove(folder).catch(() => {});
}
