import { dirname, join } from "@std/path";
import { isInside } from "./inside.ts";
import { reading, right, writing } from "./landlock.ts";
import type { LandlockRule } from "./plan.ts";
import {
  networkReads,
  programReads,
  runtimeReads,
  runtimeWrites,
} from "./system_paths.ts";

/** What a confined process may reach. */
export interface Reach {
  /** Files and folders, with all in them, that it may read. */
  readonly read: readonly string[];
  /** Files and folders, with all in them, that it may write. */
  readonly write: readonly string[];
  /** Neither read nor written, also inside of the folders above. */
  readonly withheld: readonly string[];
  /**
   * Something else keeps these from being written; here only the folders above
   * them are kept in their places.
   */
  readonly inPlace: readonly string[];
  /** Whether it may use the network. */
  readonly network: boolean;
  /** Whether it may start programs. */
  readonly programs: boolean;
}

/** What Landlock allows, for a program that may reach so far. */
export function rulesOf(program: string, reach: Reach): LandlockRule[] {
  const { read, write, withheld, inPlace, network, programs } = reach;
  const rules = new Map<string, number>();
  const allow = (path: string, rights: number) =>
    rules.set(path, (rules.get(path) ?? 0) | rights);
  allow(program, reading | right.execute);
  for (const path of runtimeReads) allow(path, reading | right.execute);
  for (const path of runtimeWrites) allow(path, writing);
  if (network) { for (const path of networkReads) allow(path, reading); }
  if (programs) {
    for (const path of programReads) allow(path, reading | right.execute);
  }
  for (const path of read) {
    for (const part of without(existing(path), withheld)) allow(part, reading);
  }
  for (const path of write) {
    for (const part of without(existing(path), withheld)) {
      for (const [place, rights] of writable(part, inPlace)) {
        allow(place, rights);
      }
    }
  }
  return [...rules].map(([path, rights]) => ({ path, rights }));
}

/** A path that is not there yet can only be allowed with its folder. */
function existing(path: string): string {
  return exists(path) ? path : dirname(path);
}

/** A folder without some of what is in it: its other entries, one by one. */
function without(path: string, withheld: readonly string[]): string[] {
  if (withheld.some((other) => isInside(other, path))) return [];
  const inside = withheld.filter((other) => isInside(path, other));
  if (inside.length === 0) return [path];
  return entries(path).flatMap((entry) => without(entry, inside));
}

/**
 * A folder with something below its entries that must stay in place: its own
 * entries are neither removed nor renamed, as what is refused by its path would
 * be free under another.
 */
function writable(
  path: string,
  inPlace: readonly string[],
): [string, number][] {
  const deep = inPlace.filter((other) =>
    other !== path && isInside(path, other) && dirname(other) !== path
  );
  if (deep.length === 0) return [[path, writing]];
  return [
    [path, writing & ~right.removeFolder],
    ...entries(path).flatMap((entry) => writable(entry, deep)),
  ];
}

function entries(folder: string): string[] {
  try {
    return [...Deno.readDirSync(folder)]
      .filter(({ isSymlink }) => !isSymlink)
      .map(({ name }) => join(folder, name));
  } catch {
    return [];
  }
}

function exists(path: string): boolean {
  try {
    Deno.lstatSync(path);
    return true;
  } catch {
    return false;
  }
}
