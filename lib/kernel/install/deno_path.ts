import { join } from "@std/path";

/** Whether the path is this Deno: it says the same version. */
async function isThisDeno(path: string): Promise<boolean> {
  try {
    if (!(await Deno.stat(path)).isFile) return false;
    const { success, stdout } = await new Deno.Command(path, {
      args: ["--version"],
      stdout: "piped",
      stderr: "null",
    }).output();
    return success &&
      new TextDecoder().decode(stdout).startsWith(
        `deno ${Deno.version.deno} `,
      );
  } catch {
    return false;
  }
}

/**
 * A path of Deno that outlives updates: what `PATH` finds, with its links, where
 * it is the version that runs now; else the program that runs now.
 *
 * @param path The value of `PATH`.
 * @returns An absolute path.
 */
export async function stableDenoPath(
  path: string | undefined = Deno.env.get("PATH"),
): Promise<string> {
  const isWindows = Deno.build.os === "windows";
  for (const folder of (path ?? "").split(isWindows ? ";" : ":")) {
    const isTemporary = /[\\/](_npx|node_modules)[\\/]/.test(folder);
    if (folder === "" || isTemporary) continue;
    const candidate = join(folder, isWindows ? "deno.exe" : "deno");
    if (await isThisDeno(candidate)) return candidate;
  }
  return Deno.execPath();
}
