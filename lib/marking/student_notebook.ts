import { cellTags, type Notebook } from "../notebook/mod.ts";

/**
 * The notebook that a student gets: cells tagged `solution` or `teacher` are left
 * out, outputs are cleared.
 *
 * @param notebook The assignment with its solutions.
 * @returns A new notebook; the given one is not changed.
 */
export function studentNotebook(notebook: Notebook): Notebook {
  return withoutCells(notebook, ["solution", "teacher"]);
}

/**
 * The notebook with the solutions, as the teacher runs it: cells tagged `answer`
 * (where a student writes) are left out.
 *
 * @param notebook The assignment with its solutions.
 * @returns A new notebook; the given one is not changed.
 */
export function teacherNotebook(notebook: Notebook): Notebook {
  return withoutCells(notebook, ["answer"]);
}

function withoutCells(
  notebook: Notebook,
  unwanted: readonly string[],
): Notebook {
  const copy = structuredClone(notebook);
  copy.cells = copy.cells.filter((cell) =>
    !cellTags(cell).some((tag) => unwanted.includes(tag))
  );
  for (const cell of copy.cells) {
    if (cell.cell_type !== "code") continue;
    cell.outputs = [];
    cell.execution_count = null;
  }
  return copy;
}
