import { relative, resolve } from "@std/path";
import { isInside, outwardLinks, type SystemMeans } from "../confine/mod.ts";
import type { Grants } from "./grants.ts";
import { projectFolder } from "./project_folder.ts";
import { protectedPaths } from "./protected_names.ts";
import type { DefaultReach } from "./reach.ts";

/** What the search for links depends on. */
export interface RefuseLinksInput {
  readonly notebookFolder: string;
  readonly reach: DefaultReach;
  readonly grants: Grants;
  readonly means: SystemMeans;
}

/** Where the system keeps files apart, a search in a home may end early. */
const enoughEntries = 50_000;

/**
 * Refuses a notebook's folder with symbolic links that lead outward.
 *
 * @throws {Error} With the names of the links.
 */
export async function refuseLinks(input: RefuseLinksInput): Promise<void> {
  const { notebookFolder, reach, grants, means } = input;
  const confined = means.landlock > 0;
  // Only the system can let a link be read and not written.
  const granted = [...grants.write ?? [], ...confined ? grants.read ?? [] : []];
  if (granted.includes("all")) return;
  const { unwritable, unreadable } = protectedPaths(
    notebookFolder,
    projectFolder,
  );
  const allowed = granted.map((path) => resolve(notebookFolder, path));
  const options = {
    allowed: [...reach.write, ...allowed],
    // Elsewhere the system keeps it from being written.
    kept: [...unwritable, ...unreadable].filter((path) =>
      !allowed.includes(path) &&
      (!confined || reach.write.some((folder) => isInside(folder, path)))
    ),
    ...(confined ? { most: enoughEntries } : {}),
  };
  const found = (await Promise.all(
    reach.write.map((folder) => outwardLinks(folder, options)),
  )).flat();
  if (found.length === 0) return;
  const shown = found.slice(0, 5).map(({ path, target }) =>
    `'${relative(notebookFolder, path)}' (to '${target}')`
  );
  const more = found.length > 5 ? ` and ${found.length - 5} more` : "";
  throw new Error(
    `Cannot run notebooks in '${notebookFolder}' as links lead out of it: ${
      shown.join(", ")
    }${more}. Remove them, or allow where they lead with "read" in the file of permissions`,
  );
}
