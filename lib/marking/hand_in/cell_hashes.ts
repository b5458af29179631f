import { joinText, type Notebook } from "../../notebook/mod.ts";
import { sha256Of } from "../../runtime/mod.ts";

/** Code shorter than this is written alike by many. */
const shortest = 60;

/**
 * Hashes of the code cells, without regard to white space and comments: two
 * hand-ins that share them share text. Short cells are left out.
 *
 * @param notebook The notebook.
 * @returns One hash in hex per cell of some length.
 */
export function cellHashes(notebook: Notebook): string[] {
  const hashes = notebook.cells
    .filter(({ cell_type }) => cell_type === "code")
    .map(({ source }) =>
      joinText(source).replace(/\/\*[\s\S]*?\*\/|\/\/[^\n]*/g, "")
        .replace(/\s+/g, "")
    )
    .filter(({ length }) => length >= shortest)
    .map((text) => sha256Of(new TextEncoder().encode(text)));
  return [...new Set(hashes)].slice(0, 500);
}
