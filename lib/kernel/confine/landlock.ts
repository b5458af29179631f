import type { LandlockPlan, LandlockRule } from "./plan.ts";

/** Rights to files, as in `linux/landlock.h`. */
export const right = {
  execute: 1 << 0,
  writeFile: 1 << 1,
  readFile: 1 << 2,
  readFolder: 1 << 3,
  removeFolder: 1 << 4,
  removeFile: 1 << 5,
  makeDevice: 1 << 6,
  makeFolder: 1 << 7,
  makeFile: 1 << 8,
  makeSocket: 1 << 9,
  makePipe: 1 << 10,
  makeBlock: 1 << 11,
  makeLink: 1 << 12,
  moveBetween: 1 << 13,
  truncate: 1 << 14,
  control: 1 << 15,
} as const;

/** To read a folder and all in it. */
export const reading = right.readFile | right.readFolder;

/** To write in a folder; no links, devices, pipes and sockets are made. */
export const writing = right.writeFile | right.truncate | right.makeFile |
  right.makeFolder | right.removeFile | right.removeFolder |
  right.moveBetween;

/** The rights that make sense for a file that is no folder. */
const ofFiles = right.execute | right.writeFile | right.readFile |
  right.truncate | right.control;

const bindTcp = 1 << 0;
const connectTcp = 1 << 1;
const abstractSockets = 1 << 0;
const signals = 1 << 1;

/**
 * The strongest set of rules that a version of Landlock knows: 1 files, 2 moves
 * between folders, 3 truncation, 4 TCP, 5 control of devices, 6 signals and
 * abstract sockets (landlock(7), "VERSIONS").
 *
 * @param version Version of the system's interface, at least 1.
 * @param rules What is allowed.
 * @param network Whether TCP is allowed.
 */
export function landlockPlan(
  version: number,
  rules: readonly LandlockRule[],
  network: boolean,
): LandlockPlan {
  const fileBits = [0, 13, 14, 15, 15, 16][Math.min(version, 5)]!;
  const files = 2 ** fileBits - 1;
  return {
    files,
    network: version >= 4 && !network ? bindTcp | connectTcp : 0,
    scope: version >= 6 ? abstractSockets | signals : 0,
    attributeLength: version >= 6 ? 24 : version >= 4 ? 16 : 8,
    rules: rules.flatMap(({ path, rights }) => {
      const kept = rights & files & (isFolder(path) ? files : ofFiles);
      return kept === 0 ? [] : [{ path, rights: kept }];
    }),
  };
}

function isFolder(path: string): boolean {
  try {
    return Deno.statSync(path).isDirectory;
  } catch {
    return false;
  }
}
