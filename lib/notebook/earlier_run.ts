import { cellTags, joinText, type Notebook } from "./notebook.ts";
import { sha256Later } from "../runtime/mod.ts";
import { readNotebook } from "./read_notebook.ts";

/** Key of this project's part of a notebook's metadata. */
const metadataKey = "fringebook";

/** Notes in a notebook how its run ended. */
export function noteRun(
  notebook: Notebook,
  run: { status: "ok" | "failed"; fingerprint: string },
): void {
  notebook.metadata[metadataKey] = {
    ...notebook.metadata[metadataKey] as object | undefined,
    run,
  };
}

/** SHA-256 of the code and the parameters of a notebook. */
export async function fingerprintOf(
  notebook: Notebook,
  parameters: Readonly<Record<string, unknown>>,
): Promise<string> {
  const code = notebook.cells
    .filter((cell) =>
      cell.cell_type === "code" &&
      !cellTags(cell).includes("injected-parameters")
    )
    .map(({ source }) => joinText(source));
  const bytes = new TextEncoder().encode(JSON.stringify([code, parameters]));
  return await sha256Later(bytes);
}

/** A good earlier run of the same code and parameters, or `null`. */
export async function earlierRun(
  path: string,
  fingerprint: string,
): Promise<Notebook | null> {
  try {
    const notebook = await readNotebook(path);
    const own = notebook.metadata[metadataKey] as
      | { run?: { status?: string; fingerprint?: string } }
      | undefined;
    const { status, fingerprint: before } = own?.run ?? {};
    return status === "ok" && before === fingerprint ? notebook : null;
  } catch {
    return null;
  }
}
