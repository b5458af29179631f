/** What a filter of system calls depends on. */
export interface FilterInput {
  readonly arch: typeof Deno.build.arch;
  /** Whether sockets of the internet may be opened. */
  readonly network: boolean;
}

// Instructions of classic BPF, and what they give back: linux/bpf_common.h,
// linux/seccomp.h
const load = 0x20;
const ifEqual = 0x15;
const ifAtLeast = 0x35;
const giveBack = 0x06;
const allowed = 0x7fff0000;
const notPermitted = 0x00050000 | 1;
const noSuchCall = 0x00050000 | 38;

/** Where the facts of a call stand (`struct seccomp_data`). */
const at = { call: 0, arch: 4, firstArgument: 16 } as const;

const calls = {
  x86_64: { arch: 0xc000003e, links: [86, 88, 265, 266], socket: 41 },
  aarch64: { arch: 0xc00000b7, links: [36, 37], socket: 198 },
} as const;

/** The same on both; it would open sockets past this filter. */
const ioUringSetup = 425;
/** From here on a number means another interface of x86_64. */
const otherInterface = 0x40000000;
/** AF_INET, AF_INET6, and AF_NETLINK to look up hosts. */
const internet = [2, 10, 16];

type Label = "known" | "socket" | "refuse" | "missing" | "allow";
type Line =
  | Label
  | readonly [code: number, value: number, goTo?: Label];

/**
 * A filter of system calls (seccomp(2)) that refuses links between files, and
 * sockets: without the network all of them, else all but those of the
 * internet. Connected pairs inside the process are allowed.
 *
 * @returns The instructions, 8 bytes each.
 */
export function callFilter(input: FilterInput): Uint8Array<ArrayBuffer> {
  const { arch, links, socket } = calls[input.arch];
  return assemble([
    [load, at.arch],
    [ifEqual, arch, "known"],
    [giveBack, notPermitted],
    "known",
    [load, at.call],
    [ifAtLeast, otherInterface, "refuse"],
    ...links.map((call) => [ifEqual, call, "refuse"] as const),
    [ifEqual, ioUringSetup, "missing"],
    [ifEqual, socket, input.network ? "socket" : "refuse"],
    [giveBack, allowed],
    "socket",
    [load, at.firstArgument],
    ...internet.map((family) => [ifEqual, family, "allow"] as const),
    "refuse",
    [giveBack, notPermitted],
    "missing",
    [giveBack, noSuchCall],
    "allow",
    [giveBack, allowed],
  ]);
}

/** Turns labels into distances. */
function assemble(lines: readonly Line[]): Uint8Array<ArrayBuffer> {
  const places = new Map<Label, number>();
  const program: Exclude<Line, Label>[] = [];
  for (const line of lines) {
    if (typeof line === "string") places.set(line, program.length);
    else program.push(line);
  }
  const bytes = new Uint8Array(8 * program.length);
  const view = new DataView(bytes.buffer);
  program.forEach(([code, value, goTo], index) => {
    view.setUint16(8 * index, code, true);
    if (goTo) view.setUint8(8 * index + 2, places.get(goTo)! - index - 1);
    view.setUint32(8 * index + 4, value, true);
  });
  return bytes;
}
