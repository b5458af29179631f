import { join } from "@std/path";
import { projectFolder } from "./project_folder.ts";

/** Where in the project modules stand whose packages are fetched when used. */
const laterFolder = "./lib/runtime/";

/**
 * Fetches the packages of a module of the import map that is fetched when it is
 * first used. A session asks for it and cannot choose what is fetched: other
 * names never reach the registry.
 *
 * @param name The name in the import map.
 * @param lockFile The lock file of the session.
 * @param tell Says what is done.
 * @returns `null` when all is there, else what went wrong.
 */
export async function fetchPackage(
  name: string,
  lockFile: string | null,
  tell: (text: string) => void,
): Promise<string | null> {
  const config = join(projectFolder, "deno.json");
  const { imports } = JSON.parse(await Deno.readTextFile(config)) as {
    imports: Record<string, string>;
  };
  const target = Object.hasOwn(imports, name) ? imports[name] : undefined;
  if (!target?.startsWith(laterFolder)) {
    return `Cannot import "${name}" as it was not fetched, and notebooks have no network. Grant {"import": ["registry.npmjs.org:443"]} to the notebook's folder in notebook_permissions.json, or take a package of deno.json`;
  }
  tell(`Fetching ${name}, this first time only …\n`);
  const { success, stderr } = await new Deno.Command(Deno.execPath(), {
    args: [
      "cache",
      "--quiet",
      `--config=${config}`,
      ...(lockFile ? [`--lock=${lockFile}`] : ["--no-lock"]),
      join(projectFolder, target),
    ],
    env: { NO_COLOR: "1", DENO_NO_UPDATE_CHECK: "1" },
    stdout: "null",
    stderr: "piped",
  }).output();
  if (success) return null;
  const why = new TextDecoder().decode(stderr).trim();
  return `Cannot fetch ${name}: ${why}. Check the network, then run the cell again`;
}
