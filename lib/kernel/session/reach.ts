import { dirname, join, resolve } from "@std/path";
import type { Reach } from "../confine/mod.ts";
import { projectFolder } from "./project_folder.ts";
import { dependencyCache } from "./dependency_cache.ts";
import type { Grants } from "./grants.ts";
import { protectedPaths } from "./protected_names.ts";

/** Where cells may read and write without a grant. */
export interface DefaultReach {
  /** Files and folders, with all in them. */
  readonly read: readonly string[];
  /** Files and folders, with all in them. */
  readonly write: readonly string[];
}

/**
 * By default a notebook may read the project and its own folder, and write its
 * own folder and `out/`.
 */
export function defaultReach(notebookFolder: string): DefaultReach {
  return {
    read: [projectFolder, notebookFolder],
    write: [notebookFolder, join(projectFolder, "out")],
  };
}

/** What the reach of a session depends on. */
export interface SessionReachInput {
  readonly notebookFolder: string;
  readonly reach: DefaultReach;
  readonly grants: Grants;
  readonly withheld: readonly string[];
  readonly lockFile: string | null;
}

/** What the system lets the process of a session reach. */
export function sessionReach(input: SessionReachInput): Reach {
  const { notebookFolder, reach, grants, withheld, lockFile } = input;
  const granted = (kind: "read" | "write") => {
    const list = grants[kind] ?? [];
    return list.includes("all")
      ? ["/"]
      : list.map((path) => resolve(notebookFolder, path));
  };
  const isGranted = (kind: keyof Grants) => (grants[kind] ?? []).length > 0;
  const packages = mayFetchPackages(grants);
  const network = isGranted("net") || packages;
  return {
    read: [
      ...reach.read,
      dependencyCache(),
      ...(lockFile ? [lockFile] : []),
      ...(network ? certificates() : []),
      ...(packages ? settingsOfPackages() : []),
      ...granted("read"),
    ],
    write: [
      ...reach.write,
      // Not what was compiled: it runs with the permissions of others.
      ...(packages ? fetched.map((name) => join(dependencyCache(), name)) : []),
      ...(lockFile ? [dirname(lockFile)] : []),
      ...granted("write"),
    ],
    withheld: withheld.map((path) => resolve(path)),
    inPlace: protectedPaths(notebookFolder, projectFolder).unwritable,
    network,
    programs: isGranted("run"),
  };
}

/** Whether the person lets notebooks fetch packages and modules. */
export function mayFetchPackages({ import: hosts = [] }: Grants): boolean {
  return hosts.length > 0;
}

/** Folders of the cache for what comes from the network. */
const fetched = ["npm", "remote"];

/** Files with certificates that the person's environment names. */
function certificates(): string[] {
  return ["DENO_CERT", "NODE_EXTRA_CA_CERTS", "SSL_CERT_FILE", "SSL_CERT_DIR"]
    .flatMap((name) => Deno.env.get(name) || []);
}

/** Where a person says which registry is used. */
function settingsOfPackages(): string[] {
  const home = Deno.env.get("HOME");
  return home ? [join(home, ".npmrc")] : [];
}
