import {
  cellTags,
  joinText,
  type Notebook,
  type NotebookCell,
} from "./notebook.ts";
import { createCell } from "./read_notebook.ts";

/** Tag of the cell that declares the parameters. */
const parametersTag = "parameters";
/** Tag of the cell that a run puts after it. */
const injectedTag = "set-by-run";

/**
 * Sets the parameters of a notebook: puts a cell that declares them again after
 * the cell tagged `parameters`.
 *
 * @param notebook Is changed.
 * @param parameters Name → value (anything that JSON can hold).
 * @throws {RangeError} If there is no such cell, or it lacks a name.
 */
export async function injectParameters(
  notebook: Notebook,
  parameters: Readonly<Record<string, unknown>>,
): Promise<void> {
  const names = Object.keys(parameters);
  if (names.length === 0) return;
  const cells = notebook.cells.filter((cell) =>
    !cellTags(cell).includes(injectedTag)
  );
  const at = cells.findIndex((cell) =>
    cell.cell_type === "code" && cellTags(cell).includes(parametersTag)
  );
  if (at < 0) {
    throw new RangeError(
      `Cannot set the parameter '${
        names[0]
      }' as no code cell of the notebook has the tag '${parametersTag}'`,
    );
  }
  const known = await declaredNames(cells[at]!);
  for (const name of names) {
    if (known.has(name)) continue;
    throw new RangeError(
      `Cannot set the parameter '${name}' as the cell tagged '${parametersTag}' does not declare it: it declares ${
        [...known].join(", ") || "nothing"
      }`,
    );
  }
  const source = names.map((name) =>
    `let ${name} = ${JSON.stringify(parameters[name])};`
  ).join("\n");
  cells.splice(at + 1, 0, createCell("code", source, { tags: [injectedTag] }));
  notebook.cells = cells;
}

/**
 * Reads `name=value` as typed in a shell: JSON where it is JSON, else text.
 *
 * @throws {RangeError} If it is not of that form.
 *
 * @example
 * ```ts
 * import { parseParameter } from "fringebook/notebook";
 * import { expect } from "vitest";
 *
 * expect(parseParameter("distance=0.25")).toEqual(["distance", 0.25]);
 * expect(parseParameter("target=matt paper")).toEqual(["target", "matt paper"]);
 * ```
 */
export function parseParameter(text: string): [name: string, value: unknown] {
  const at = text.indexOf("=");
  const name = text.slice(0, Math.max(0, at)).trim();
  if (!/^[A-Za-z_$][\w$]*$/.test(name)) {
    throw new RangeError(
      `Cannot read the parameter '${text}': write it as name=value`,
    );
  }
  const value = text.slice(at + 1);
  try {
    return [name, JSON.parse(value)];
  } catch {
    return [name, value];
  }
}

async function declaredNames(cell: NotebookCell): Promise<Set<string>> {
  const { cellNames } = await import("../kernel/interpreter/mod.ts");
  return cellNames(joinText(cell.source));
}
