/**
 * Which test files run in one process of `deno task test`, so that the library
 * is loaded and compiled once for all of them. A single file still runs by
 * itself: `deno test -A tests/range/steps_test.ts`.
 *
 * @module
 */
const tests = new URL("./", import.meta.url);

/**
 * Folders and files of `tests/` by the file in `tests/together/` that runs them,
 * the longest first, as they start in this order. A file that is named itself
 * is not run with its folder.
 */
export const groups: Readonly<Record<string, readonly string[]>> = {
  "01_kernel": ["kernel/conformance", "kernel/transport", "kernel/protocol"],
  "02_capture": ["capture"],
  "03_notebook": ["notebook"],
  "04_session": ["kernel/session"],
  "05_motion": ["motion"],
  "06_range": ["range"],
  "07_display": ["display", "drawing"],
  "08_marking": ["marking", "course"],
  "09_explore": ["explore", "speed"],
  "10_cli": ["cli", "docs", "datasets", "record", "batch"],
  "11_live": ["live", "kernel/confine", "kernel/install"],
  "12_interpreter": ["kernel/interpreter", "kernel/types"],
  "13_doors": ["doors", "scipy_bench", "level"],
  "14_bench": ["bench", "laser"],
  // In the engine's own scope, whose variables it lists
  "15_values": ["kernel/interpreter/values_test.ts"],
  "16_numbers": [
    ...["fit", "signal", "uncertainty", "options", "order", "memory", "zoo"],
    "vitest_test.ts",
  ],
  // Calls everything wrongly, also what sets how others work, and from a folder
  // of its own: those beside it find their files by whole paths
  "17_sweep": ["doors/sweep_test.ts"],
  // Before any fit has shown how quick this machine is
  "18_fit_time": ["motion/fit_time_test.ts"],
};

/** All test files, by their path from `tests/`. */
export function testFiles(folder = ""): string[] {
  return [...Deno.readDirSync(new URL(folder, tests))]
    .sort((a, b) => a.name < b.name ? -1 : 1)
    .flatMap(({ name, isDirectory }) =>
      isDirectory
        ? testFiles(`${folder}${name}/`)
        : name.endsWith("_test.ts")
        ? [folder + name]
        : []
    );
}

/** The group that names a file, or the nearest folder around it. */
export function groupOf(path: string): string | undefined {
  const named = (part: string) => part === path || path.startsWith(`${part}/`);
  const length = (parts: readonly string[]) =>
    Math.max(0, ...parts.filter(named).map((part) => part.length));
  return Object.entries(groups)
    .filter(([, parts]) => length(parts) > 0)
    .sort(([, a], [, b]) => length(b) - length(a))[0]?.[0];
}

/** Declares the tests of the group whose file asks, file by file. */
export async function together({ url }: ImportMeta): Promise<void> {
  const group = /([^/]+)\.ts$/.exec(url)![1];
  for (const path of testFiles().filter((path) => groupOf(path) === group)) {
    await import(new URL(path, tests).href);
  }
}
