import { fromFileUrl, join } from "@std/path";
import {
  cellTags,
  injectParameters,
  joinText,
  type Notebook,
  readNotebook,
  renderPage,
  runNotebook,
  writeNotebook,
  writeWhole,
} from "../../notebook/mod.ts";
import { createStatusLine, followRun } from "../status_line.ts";

/** The project's folder. */
export const root = fromFileUrl(new URL("../../../", import.meta.url));

/** A notebook to make from a template and run. */
export interface Note {
  /** File name of the template in `notebooks/templates/`. */
  readonly template: string;
  /** Values for the cell tagged `parameters`. */
  readonly parameters: Readonly<Record<string, unknown>>;
  /** Folder of the note; it may read what lies there. */
  readonly folder: string;
  /** File name of the note, without extension. */
  readonly name: string;
  /**
   * Source of the cell tagged `parameters` in place of the template's, as a
   * person left it; it is taken if it declares all that the template's does.
   */
  readonly parametersCell?: string | null;
}

/**
 * Makes a notebook from a template, runs it, writes its page beside it, and
 * prints what came of it. An interrupt (Ctrl-C) stops the running cell: what ran
 * before it is written all the same.
 *
 * @param note Template, parameters, folder and name.
 * @returns The exit code: 0 all cells ran, 1 a cell failed, 130 interrupted.
 */
export async function runNote(note: Note): Promise<number> {
  const { folder, name } = note;
  const notebook = await readNotebook(
    join(root, "notebooks", "templates", note.template),
  );
  await takeParametersCell(notebook, note.parametersCell ?? null);
  await injectParameters(notebook, note.parameters);
  const path = join(folder, `${name}.ipynb`);
  await writeNotebook(path, notebook);
  const status = createStatusLine();
  const stop = new AbortController();
  const onInterrupt = () => stop.abort();
  Deno.addSignalListener("SIGINT", onInterrupt);
  const run = await runNotebook(path, {
    timeout: 600,
    signal: stop.signal,
    ...followRun((text) => status.tell(0, text)),
  }).finally(() => {
    Deno.removeSignalListener("SIGINT", onInterrupt);
    status.end();
  });
  const page = join(folder, `${name}.html`);
  await writeWhole(page, await renderPage(run.notebook, { path }));
  console.log(run.summary);
  console.log(`Notebook: ${path}\nPage:     ${page}`);
  if (stop.signal.aborted) return 130;
  return run.status === "failed" ? 1 : 0;
}

async function takeParametersCell(
  notebook: Notebook,
  source: string | null,
): Promise<void> {
  const cell = notebook.cells.find((cell) =>
    cellTags(cell).includes("parameters")
  );
  if (source === null || cell === undefined) return;
  const { cellNames } = await import("../../kernel/interpreter/mod.ts");
  const theirs = await cellNames(source);
  const missing = (await cellNames(joinText(cell.source)))
    .difference(theirs);
  if (missing.size === 0) cell.source = source;
  else {
    console.error(
      `The settings of the earlier note lack ${
        [...missing].join(", ")
      }: those of the template are taken for what was not given`,
    );
  }
}
