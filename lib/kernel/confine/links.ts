import { dirname, join, resolve } from "@std/path";
import { isInside } from "./inside.ts";

/** A link that leads out of its folder. */
export interface OutwardLink {
  /** Where the link stands. */
  readonly path: string;
  /** Where it leads. */
  readonly target: string;
}

/** Options of {@linkcode outwardLinks}. */
export interface OutwardLinksOptions {
  /**
   * Where links may lead beside the folder itself.
   *
   * @default {[]}
   */
  allowed?: readonly string[];
  /**
   * Where no link may lead, also inside of the folder.
   *
   * @default {[]}
   */
  kept?: readonly string[];
  /**
   * Entries after which the search ends.
   *
   * @default {Infinity}
   */
  most?: number;
}

/**
 * Finds the symbolic links in a folder, and in all folders in it, that lead out
 * of it. What a permission says of the place of a link, the link carries to
 * where it leads.
 */
export async function outwardLinks(
  folder: string,
  options: OutwardLinksOptions = {},
): Promise<OutwardLink[]> {
  const { allowed = [], kept = [], most = Infinity } = options;
  const base = await realPath(folder);
  const inside = [base, ...await Promise.all(allowed.map(realPath))];
  const outside = await Promise.all(kept.map(realPath));
  const found: OutwardLink[] = [];
  const folders = [base];
  let seen = 0;
  for (let at = 0; at < folders.length && seen < most; at++) {
    for (const { name, isSymlink, isDirectory } of entries(folders[at]!)) {
      seen++;
      const path = join(folders[at]!, name);
      if (isDirectory) folders.push(path);
      if (!isSymlink) continue;
      const target = await realPath(path);
      const may = inside.some((place) => isInside(place, target)) &&
        !outside.some((place) => isInside(place, target));
      if (!may) found.push({ path, target });
    }
    // The kernel answers its clients in between.
    if (at % 64 === 63) await new Promise((done) => setTimeout(done, 0));
  }
  return found;
}

function entries(folder: string): Deno.DirEntry[] {
  try {
    return [...Deno.readDirSync(folder)];
  } catch {
    // What cannot be listed cannot be followed by a notebook either.
    return [];
  }
}

/** The place itself; for a link that leads nowhere yet, where it would. */
async function realPath(path: string, depth = 0): Promise<string> {
  try {
    return await Deno.realPath(path);
  } catch {
    const parent = dirname(path);
    if (parent === path || depth > 40) return path;
    const target = await Deno.readLink(path).catch(() => null);
    const place = await realPath(parent, depth + 1);
    if (target !== null) return realPath(resolve(place, target), depth + 1);
    return join(place, path.slice(parent.length));
  }
}
