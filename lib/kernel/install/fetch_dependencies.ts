import { join } from "@std/path";
import { projectFolder } from "./jupyter_paths.ts";

/** What a kernel and its notebooks load. */
const ENTRIES = [
  ["lib", "kernel", "launch", "main.ts"],
  ["lib", "kernel", "confine", "launcher.ts"],
  ["lib", "kernel", "session", "main.ts"],
  ["lib", "kernel", "session", "listener.ts"],
  ["lib", "mod.ts"],
];

/**
 * Fetches the packages that a kernel needs, so that its first start needs no
 * network and no patience.
 *
 * @param denoPath Path of Deno.
 * @param env Environment variables of the kernel, such as `DENO_DIR`.
 * @returns `null` when all is there, else what went wrong.
 */
export async function fetchDependencies(
  denoPath: string,
  env: Readonly<Record<string, string>> = {},
): Promise<string | null> {
  try {
    const { success, stderr } = await new Deno.Command(denoPath, {
      args: [
        "cache",
        "--quiet",
        "--no-lock",
        `--config=${join(projectFolder, "deno.json")}`,
        ...ENTRIES.map((path) => join(projectFolder, ...path)),
      ],
      env: { ...env, NO_COLOR: "1" },
      stdout: "null",
      stderr: "piped",
    }).output();
    return success ? null : new TextDecoder().decode(stderr).trim();
  } catch (error) {
    return (error as Error).message;
  }
}
