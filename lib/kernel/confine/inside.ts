import { resolve, SEPARATOR } from "@std/path";

/** Whether a path is a folder or something in it. */
export function isInside(folder: string, path: string): boolean {
  const base = resolve(folder);
  const other = resolve(path);
  return other === base ||
    other.startsWith(base.endsWith(SEPARATOR) ? base : base + SEPARATOR);
}
