/** What the system offers to confine a process. */
export interface SystemMeans {
  /** Version of Landlock; 0 where there is none. */
  readonly landlock: number;
  /** Whether system calls can be filtered. */
  readonly filter: boolean;
}

let found: SystemMeans | null = null;

/** Asks the system, once. */
export function systemMeans(): SystemMeans {
  return found ??= ask();
}

function ask(): SystemMeans {
  const libc = openLibrary();
  if (libc === null) return { landlock: 0, filter: false };
  try {
    const landlockCreateRuleset = 444n;
    const onlyTheVersion = 1n;
    const getSeccomp = 21;
    const version = libc.symbols.syscall(
      landlockCreateRuleset,
      0n,
      0n,
      onlyTheVersion,
    );
    return {
      landlock: Math.max(0, Number(version)),
      filter: libc.symbols.prctl(getSeccomp, 0n, 0n, 0n, 0n) >= 0,
    };
  } finally {
    libc.close();
  }
}

/** The C library; `null` where there is another, or this process may not. */
function openLibrary() {
  if (Deno.build.os !== "linux") return null;
  try {
    return Deno.dlopen("libc.so.6", {
      syscall: { parameters: ["i64", "u64", "u64", "u64"], result: "i64" },
      prctl: { parameters: ["i32", "u64", "u64", "u64", "u64"], result: "i32" },
    });
  } catch {
    return null;
  }
}
