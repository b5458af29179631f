import { join } from "@std/path";
import {
  createCell,
  formatNotebook,
  type Notebook,
  type NotebookCell,
} from "../../lib/notebook/mod.ts";

/** A code cell with an id. */
export function code(id: string, source: string, tags: string[] = []) {
  return createCell("code", source, { id, tags });
}

/** A notebook of the cells. */
export function notebookOf(...cells: NotebookCell[]): Notebook {
  return { nbformat: 4, nbformat_minor: 5, metadata: {}, cells };
}

/** A temporary folder with notebooks in it. */
export class NotebookFolder {
  constructor(readonly path: string) {}

  static async create(): Promise<NotebookFolder> {
    return new NotebookFolder(await Deno.makeTempDir());
  }

  /** Saves a notebook and gives its path. */
  async add(name: string, notebook: Notebook): Promise<string> {
    const path = join(this.path, name);
    await Deno.writeTextFile(path, formatNotebook(notebook));
    return path;
  }

  async remove(): Promise<void> {
    await Deno.remove(this.path, { recursive: true });
  }
}
