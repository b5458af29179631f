import { join } from "@std/path";
import { dependencyCache } from "./dependency_cache.ts";
import { isInside } from "../confine/mod.ts";
import { grantFileName } from "./grants.ts";

/** Names that a notebook may not write in its folder and in the project. */
export const protectedNames: readonly string[] = [
  grantFileName,
  "deno.json",
  "deno.jsonc",
  "deno.lock",
  "package.json",
  ".git",
];

/** What runs by itself in a project, or decides what may run. */
const projectNames = ["lib", "tests", ".ci"];

/** What starts or steers programs of a person, in the home folder. */
const homeNames = [
  ...[".bashrc", ".bash_profile", ".bash_login", ".bash_logout", ".profile"],
  ...[".zshrc", ".zshenv", ".zprofile", ".config", ".local", ".npmrc"],
  ...[".gitconfig", ".jupyter", ".ipython", ".deno", "bin", "Library"],
  ...["AppData", ".cache"],
];

/** Keys of a person, in the home folder. */
const secretNames = [".ssh", ".gnupg", ".netrc", ".aws", ".kube", ".docker"];

/** Paths kept from a notebook even where its own folder holds them. */
export interface ProtectedPaths {
  readonly unwritable: readonly string[];
  readonly unreadable: readonly string[];
}

/**
 * Says what is kept from a notebook, even one that lies in the home folder or
 * above the project.
 *
 * @param notebookFolder Folder of the notebook.
 * @param projectFolder Folder of the project.
 */
export function protectedPaths(
  notebookFolder: string,
  projectFolder: string,
): ProtectedPaths {
  const home = Deno.env.get("HOME") || Deno.env.get("USERPROFILE") || null;
  const inside = (folder: string, names: readonly string[]) =>
    names.map((name) => join(folder, name));
  const secrets = home === null ? [] : inside(home, secretNames);
  // Notebook or project may lie in such a folder, ~/.local say: then it is open.
  const steering = (home === null ? [] : inside(home, homeNames))
    .filter((path) =>
      !isInside(path, notebookFolder) && !isInside(path, projectFolder)
    );
  return {
    unreadable: secrets,
    unwritable: [
      ...inside(notebookFolder, protectedNames),
      ...inside(projectFolder, [...protectedNames, ...projectNames]),
      dependencyCache(),
      ...secrets,
      ...steering,
    ],
  };
}
