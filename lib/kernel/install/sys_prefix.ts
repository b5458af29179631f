import type { ReadEnvironment } from "./jupyter_paths.ts";

/**
 * Folder of the active Python environment: the virtual environment or conda
 * environment that is active, else what Python itself says.
 *
 * @param env Environment variables.
 * @returns The folder; `null` where there is no Python.
 */
export async function pythonPrefix(
  env: ReadEnvironment = (name) => Deno.env.get(name),
): Promise<string | null> {
  const active = env("VIRTUAL_ENV") || env("CONDA_PREFIX");
  if (active) return active;
  for (const name of ["python3", "python"]) {
    try {
      const { success, stdout } = await new Deno.Command(name, {
        args: ["-c", "import sys; print(sys.prefix)"],
        stdout: "piped",
        stderr: "null",
      }).output();
      const prefix = new TextDecoder().decode(stdout).trim();
      if (success && prefix !== "") return prefix;
    } catch {
      // no Python of that name
    }
  }
  return null;
}
