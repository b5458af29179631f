import { join, resolve } from "@std/path";
import { dependencyCache } from "./dependency_cache.ts";
import type { GrantKind, Grants } from "./grants.ts";
import { projectFolder } from "./project_folder.ts";
import { protectedPaths } from "./protected_names.ts";
import { type DefaultReach, mayFetchPackages } from "./reach.ts";

/** What the command of a session depends on. */
export interface SessionCommandInput {
  /** Folder of the notebook. */
  readonly notebookFolder: string;
  /** Where cells may read and write without a grant. */
  readonly reach: DefaultReach;
  /** File in which the person grants more. */
  readonly grantFile: string;
  /** Granted by the person on top of the defaults. */
  readonly grants: Grants;
  /** Never readable or writable. */
  readonly withheld: readonly string[];
  /** Largest JavaScript heap, in MB. */
  readonly memoryLimit: number;
  /** A copy of the lock file that the session may change. */
  readonly lockFile: string | null;
  /** JSON given to the session as its only argument. */
  readonly settings: string;
}

/**
 * The arguments of the runtime for a session. By default a notebook may read
 * the project, its own folder and the dependency cache, and write its own
 * folder and `out/`; it has no network, environment, programs or libraries.
 */
export function sessionArguments(input: SessionCommandInput): string[] {
  const { notebookFolder, reach, grantFile, grants, memoryLimit } = input;
  const withheld = input.withheld.map((path) => escapeComma(resolve(path)));
  const flag = (kind: GrantKind, defaults: readonly string[] = []) => {
    const granted = grants[kind] ?? [];
    if (granted.includes("all")) return [`--allow-${kind}`];
    const list = [...defaults, ...granted].map(escapeComma);
    return list.length > 0 ? [`--allow-${kind}=${list.join(",")}`] : [];
  };
  const kept = protectedPaths(notebookFolder, projectFolder);
  const deny = (kind: "read" | "write", paths: readonly string[]) => {
    // What the person grants by name is granted.
    const granted = new Set((grants[kind] ?? []).map((path) => resolve(path)));
    const list = [...new Set(paths)].filter((path) => !granted.has(path));
    const all = [...list.map(escapeComma), ...withheld];
    return all.length > 0 ? [`--deny-${kind}=${all.join(",")}`] : [];
  };
  return [
    "run",
    "--quiet",
    "--no-prompt",
    `--config=${join(projectFolder, "deno.json")}`,
    ...(input.lockFile ? [`--lock=${input.lockFile}`] : ["--no-lock"]),
    // Packages come from the cache: their names would carry words outward.
    ...(mayFetchPackages(grants) ? [] : ["--cached-only"]),
    `--v8-flags=--max-old-space-size=${memoryLimit}`,
    ...flag("read", [...reach.read, dependencyCache()]),
    ...flag("write", reach.write),
    ...deny("read", kept.unreadable),
    ...deny("write", [...kept.unwritable, grantFile]),
    ...flag("net"),
    ...flag("env"),
    ...(grants.env?.includes("all") ? [] : ["--ignore-env"]),
    ...flag("run"),
    ...flag("ffi"),
    // Some hosts are allowed by default; a host that cannot be is not.
    ...flag("import", ["none.invalid"]),
    // Needed to connect the engine; the session gives it back at once.
    "--allow-sys",
    new URL("./main.ts", import.meta.url).href,
    input.settings,
  ];
}

/**
 * The arguments of the runtime for the check of a session's types: it may read
 * what the session may read by default, and nothing else.
 */
export function typeCheckArguments(
  { notebookFolder, reach, withheld, settings }: Pick<
    SessionCommandInput,
    "notebookFolder" | "reach" | "withheld" | "settings"
  >,
): string[] {
  const { unreadable } = protectedPaths(notebookFolder, projectFolder);
  const list = (paths: readonly string[]) => paths.map(escapeComma).join(",");
  const kept = [...unreadable, ...withheld.map((path) => resolve(path))];
  return [
    "run",
    "--quiet",
    "--no-prompt",
    `--config=${join(projectFolder, "deno.json")}`,
    "--no-lock",
    "--cached-only",
    "--v8-flags=--max-old-space-size=768",
    `--allow-read=${list([...reach.read, dependencyCache()])}`,
    ...(kept.length > 0 ? [`--deny-read=${list(kept)}`] : []),
    "--ignore-env",
    new URL("../types/main.ts", import.meta.url).href,
    settings,
  ];
}

/** The environment of a session; cells cannot see it. */
export function sessionEnvironment(): Record<string, string> {
  const wanted =
    /^(PATH|HOME|USERPROFILE|SYSTEMROOT|SystemRoot|TEMP|TMP|TMPDIR|TZ|LANG|LC_.*|XDG_CACHE_HOME|LOCALAPPDATA|DENO_.*|NPM_CONFIG_.*|npm_config_.*|.*_PROXY|.*_proxy|SSL_CERT_.*|NODE_EXTRA_CA_CERTS)$/;
  const all = Object.entries(Deno.env.toObject());
  return {
    ...Object.fromEntries(all.filter(([name]) => wanted.test(name))),
    NO_COLOR: "1",
    DENO_NO_UPDATE_CHECK: "1",
  };
}

/** In lists of the runtime's flags a comma in a path is written twice. */
function escapeComma(text: string): string {
  return text.replaceAll(",", ",,");
}
