import { join } from "@std/path";
import { dependencyCache } from "./dependency_cache.ts";
import { projectFolder } from "./project_folder.ts";

/** What sessions load by themselves, and what most cells import. */
const entries = [
  "kernel/session/main.ts",
  "kernel/session/listener.ts",
  "mod.ts",
]
  .map((path) => join(projectFolder, "lib", path));

let begun = false;

/**
 * Compiles what sessions load into the runtime's cache where it never was:
 * sessions themselves may not write there. Runs beside the first session of a
 * process.
 */
export async function warmCache(): Promise<void> {
  if (begun || Deno.build.os === "windows") return;
  begun = true;
  const compiled = join(dependencyCache(), "gen", "file");
  const states = await Promise.allSettled(
    entries.map((path) => Deno.stat(join(compiled, `${path}.js`))),
  );
  if (states.every(({ status }) => status === "fulfilled")) return;
  await new Deno.Command(Deno.execPath(), {
    args: [
      "cache",
      "--quiet",
      "--no-lock",
      `--config=${join(projectFolder, "deno.json")}`,
      ...entries,
    ],
    stdin: "null",
    stdout: "null",
    stderr: "null",
  }).output();
}
