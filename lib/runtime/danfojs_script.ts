import type { PackageFetcher } from "./import_later.ts";

/** Where its script lies in the dependency cache, and beside what. */
const scriptPath = "danfojs/1.1.2/lib/bundle.js";
const neighbour = "plotly.js/plotly-cartesian.min.js";

/** Under this name the library is kept, however it was loaded. */
const kept = Symbol.for("fringebook.danfojs");

/**
 * Runs the script that the package carries for pages; once for a process.
 *
 * @param script Its text.
 * @returns What it exports.
 */
export function runDanfojs(script: string): unknown {
  const scope = globalThis as Record<symbol, unknown>;
  // Without `process` it takes this for a page, and asks for no Node.js modules.
  return scope[kept] ??= new Function(
    "process",
    `${script}\nreturn dfd;`,
  )(undefined);
}

/**
 * Loads danfojs in a process that is no session: its script is read from the
 * dependency cache, where a process of its own has put it. An import would look
 * up all that the package names, and fetch ten times as much.
 *
 * @param fetchIt Puts it into the cache.
 * @returns What it exports; `null` where there is no such cache, or it may not be
 * read.
 */
export async function danfojsFromCache(
  fetchIt: PackageFetcher,
): Promise<unknown> {
  let place: URL;
  try {
    const url = import.meta.resolve(neighbour);
    const [root] = /^file:.*\/registry\.npmjs\.org\//.exec(url) ?? [];
    if (root === undefined) return null;
    place = new URL(scriptPath, root);
  } catch {
    return null;
  }
  const read = () => Deno.readTextFile(place).catch(() => null);
  let script = await read();
  if (script === null) {
    await fetchIt("danfojs").catch(() => {});
    script = await read();
  }
  return script === null ? null : runDanfojs(script);
}

/** Fetches with the lock file of what is fetched later, and tells of it. */
export const fetchLater: PackageFetcher = async (name) => {
  if (typeof Deno === "undefined") return;
  console.error(`Fetching ${name}, this first time only …`);
  const path = (file: string) =>
    decodeURIComponent(new URL(file, import.meta.url).pathname);
  await new Deno.Command(Deno.execPath(), {
    args: [
      "cache",
      "--quiet",
      `--config=${path("../../deno.json")}`,
      `--lock=${path("packages.lock")}`,
      "--frozen",
      path("danfojs.ts"),
    ],
    stdout: "null",
    stderr: "null",
  }).output();
};
