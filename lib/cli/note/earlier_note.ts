import { join } from "@std/path";
import {
  cellTags,
  joinText,
  type Notebook,
  readNotebook,
} from "../../notebook/mod.ts";

/**
 * The note that lies in a folder, to be made anew with other readings: its
 * parameters as the person left them, in the cell and from the shell.
 *
 * @param folder Folder of the note.
 * @param name File name of the note, without extension.
 * @returns The parameters that were set, or `null` where there is no note.
 */
export async function earlierNote(
  folder: string,
  name: string,
): Promise<{ parameters: Record<string, unknown>; cell: string } | null> {
  let notebook: Notebook;
  try {
    notebook = await readNotebook(join(folder, `${name}.ipynb`));
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return null;
    throw error;
  }
  const cells = notebook.cells.filter(({ cell_type }) => cell_type === "code");
  const own = cells.find((cell) => cellTags(cell).includes("parameters"));
  if (own === undefined) return null;
  const set = cells[cells.indexOf(own) + 1];
  const parameters = set === undefined || cellTags(set).length === 0
    ? {}
    : setParameters(joinText(set.source));
  return { parameters, cell: joinText(own.source) };
}

/** Values of lines such as `let title = "…";`, as a run sets them. */
function setParameters(source: string): Record<string, unknown> {
  const found: Record<string, unknown> = {};
  for (const [, name, text] of source.matchAll(/^let ([\w$]+) = (.*);$/gm)) {
    try {
      found[name!] = JSON.parse(text!);
    } catch {
      // Written by the person: it stands in their cell.
    }
  }
  return found;
}

/**
 * Puts the evidence of the record's earlier revision aside, so that new readings
 * and captures overwrite none of it: all files of the folder move into
 * `evidence-rN`, but the records and what was moved before.
 *
 * @param folder Folder of the note.
 * @returns The folder that holds the evidence, or `null` where there is no record.
 */
export async function keepEvidence(folder: string): Promise<string | null> {
  const revision = await latestRevision(join(folder, "records"));
  if (revision === 0) return null;
  const evidence = join(folder, `evidence-r${revision}`);
  // Something of a run that failed after the record: a folder of its own.
  const kept = await exists(evidence)
    ? `${evidence}-${new Date().toISOString().replace(/\D/g, "").slice(0, 17)}`
    : evidence;
  const entries = [...Deno.readDirSync(folder)].filter(({ name }) =>
    name !== "records" && !/^evidence-r\d+/.test(name)
  );
  if (entries.length === 0) return null;
  await Deno.mkdir(kept);
  for (const { name } of entries) {
    await Deno.rename(join(folder, name), join(kept, name));
  }
  return kept;
}

/** Highest revision of the records in a folder; 0 where there is none. */
export async function latestRevision(records: string): Promise<number> {
  let highest = 0;
  try {
    for await (const { name } of Deno.readDir(records)) {
      const found = /-r(\d+)\.json$/.exec(name);
      if (found) highest = Math.max(highest, Number(found[1]));
    }
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
  }
  return highest;
}

async function exists(path: string): Promise<boolean> {
  return await Deno.lstat(path).then(() => true, () => false);
}
