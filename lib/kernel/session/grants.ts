import { dirname, resolve } from "@std/path";
import { readTextUpTo } from "../../runtime/mod.ts";
import { isInside } from "../confine/mod.ts";

/** Permissions by the runtime's name of their kind. */
export type GrantKind =
  | "read"
  | "write"
  | "net"
  | "env"
  | "run"
  | "ffi"
  | "sys"
  | "import";

/** What a person grants on top; `["all"]` stands for everything of a kind. */
export type Grants = Partial<Record<GrantKind, readonly string[]>>;

/** Longest file of grants that is read, in bytes. */
const longestFile = 1e6;

/** Name of the file in the project's root in which a person grants more. */
export const grantFileName = "notebook_permissions.json";

const kinds: readonly GrantKind[] = [
  "read",
  "write",
  "net",
  "env",
  "run",
  "ffi",
  "sys",
  "import",
];

/**
 * Reads what a person grants to the notebooks of a folder. The file is an
 * object: folder (relative to the project, or absolute, or `"*"` for all) to
 * kinds of permission to lists.
 *
 * @param file The file; it need not be there.
 * @param notebookFolder Folder of the notebook.
 * @returns All grants that hold for the folder.
 * @throws {SyntaxError} If the file is not of that form.
 * @throws {TypeError} If it is no plain file: a pipe, a device, a folder.
 */
export async function readGrants(
  file: string,
  notebookFolder: string,
): Promise<Grants> {
  let text: string;
  try {
    text = await readTextUpTo(file, longestFile);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return {};
    throw error;
  }
  const fail = (what: string) =>
    new SyntaxError(
      `Cannot read the permissions in '${file}' as ${what}. Expected a form such as {"notebooks": {"net": ["localhost:8000"]}}`,
    );
  let content: unknown;
  try {
    content = JSON.parse(text);
  } catch (error) {
    throw fail(`it is not JSON: ${(error as Error).message}`);
  }
  if (!isRecord(content)) throw fail("it is not an object");
  const lists: Grants[] = [];
  for (const [folder, grants] of Object.entries(content)) {
    if (!isRecord(grants)) throw fail(`"${folder}" is not an object`);
    for (const [kind, list] of Object.entries(grants)) {
      if (!kinds.includes(kind as GrantKind)) {
        throw fail(`"${kind}" is not one of ${kinds.join(", ")}`);
      }
      const texts = Array.isArray(list) &&
        list.every((item) => typeof item === "string" && item !== "");
      if (!texts) throw fail(`"${kind}" is not a list of texts`);
    }
    if (
      folder === "*" || isInside(resolve(dirname(file), folder), notebookFolder)
    ) {
      lists.push(grants as Grants);
    }
  }
  return mergeGrants(...lists);
}

/** Puts grants together. */
export function mergeGrants(...lists: readonly Grants[]): Grants {
  const merged: Partial<Record<GrantKind, string[]>> = {};
  for (const grants of lists) {
    for (const kind of kinds) {
      const list = grants[kind];
      if (list) merged[kind] = [...merged[kind] ?? [], ...list];
    }
  }
  return merged;
}

function isRecord(value: unknown): value is Record<string, unknown> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
