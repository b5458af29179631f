import { fromFileUrl, join } from "@std/path";

/** Reads an environment variable. */
export type ReadEnvironment = (name: string) => string | undefined;

/** What the places of kernels depend on. */
export interface PathContext {
  /**
   * Environment variables.
   *
   * @default {(name) => Deno.env.get(name)}
   */
  env?: ReadEnvironment;
  /**
   * The platform.
   *
   * @default {Deno.build.os}
   */
  os?: typeof Deno.build.os;
}

/** Root of the project: where `deno.json` is. */
export const projectFolder: string = fromFileUrl(
  new URL("../../../", import.meta.url),
).replace(/(?<=.)[\\/]$/, "");

function context(given: PathContext): Required<PathContext> {
  const { env = (name) => Deno.env.get(name), os = Deno.build.os } = given;
  return { env: (name) => env(name) || undefined, os };
}

function home({ env, os }: Required<PathContext>): string {
  const folder = env(os === "windows" ? "USERPROFILE" : "HOME");
  if (folder === undefined) {
    throw new Error(
      "Cannot find the user's folder as HOME is not set. Give the place with --prefix",
    );
  }
  return folder;
}

/**
 * The user's folder for Jupyter data: `JUPYTER_DATA_DIR` where it is set, else
 * the platform's, as `jupyter --data-dir` (jupyter_core) has it.
 */
export function userDataFolder(given: PathContext = {}): string {
  const full = context(given);
  const { env, os } = full;
  const chosen = env("JUPYTER_DATA_DIR");
  if (chosen !== undefined) return chosen;
  if (os === "darwin") return join(home(full), "Library", "Jupyter");
  if (os === "windows") {
    const roaming = env("APPDATA");
    if (roaming !== undefined) return join(roaming, "jupyter");
    return join(home(full), ".jupyter", "data");
  }
  const data = env("XDG_DATA_HOME") ?? join(home(full), ".local", "share");
  return join(data, "jupyter");
}

/** The folders of system-wide Jupyter data. */
export function systemDataFolders(given: PathContext = {}): string[] {
  const { env, os } = context(given);
  if (os === "windows") {
    const shared = env("PROGRAMDATA");
    return shared === undefined ? [] : [join(shared, "jupyter")];
  }
  return ["/usr/local/share/jupyter", "/usr/share/jupyter"];
}

/**
 * Where Jupyter looks for data, first place first: `JUPYTER_PATH`, the user's
 * folder, the Python environment, the system.
 *
 * @param sysPrefix Folder of the Python environment, `null` if not known.
 */
export function jupyterPath(
  sysPrefix: string | null,
  given: PathContext = {},
): string[] {
  const { env, os } = context(given);
  const listed = env("JUPYTER_PATH")?.split(os === "windows" ? ";" : ":") ?? [];
  const inEnvironment = sysPrefix === null
    ? []
    : [join(sysPrefix, "share", "jupyter")];
  const prefersEnvironment = env("JUPYTER_PREFER_ENV_PATH") === "1" ||
    env("VIRTUAL_ENV") !== undefined;
  const user = [userDataFolder(given)];
  const places = [
    ...listed.filter((path) => path !== ""),
    ...(prefersEnvironment
      ? [...inEnvironment, ...user]
      : [...user, ...inEnvironment]),
    ...systemDataFolders(given),
  ];
  return [...new Set(places)];
}
