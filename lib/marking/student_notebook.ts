import { cellTags, type Notebook } from "../notebook/mod.ts";
import {
  type AskedFor,
  fillQuestions,
  type Question,
  type RightAnswer,
} from "./questions/mod.ts";

/**
 * The notebook that a student gets: cells tagged `solution` or `teacher` are left
 * out, outputs are cleared, the texts of the questions filled in.
 *
 * @param notebook The assignment with its solutions.
 * @param askedFor Its questions and criteria.
 * @returns A new notebook; the given one is not changed.
 */
export function studentNotebook(
  notebook: Notebook,
  askedFor: AskedFor,
): Notebook {
  const copy = withoutCells(notebook, ["solution", "teacher"]);
  fillQuestions(copy, askedFor, null);
  delete copy.metadata["fringebook"];
  return copy;
}

/**
 * The notebook with the solutions, as the teacher runs it: cells tagged `answer`
 * (where a student writes) are left out, a model answer stands behind each
 * question.
 *
 * @param notebook The assignment with its solutions.
 * @param askedFor Its questions and criteria.
 * @param rightOf What is right for the captures of the teacher's copy.
 * @returns A new notebook; the given one is not changed.
 */
export function teacherNotebook(
  notebook: Notebook,
  askedFor: AskedFor | null = null,
  rightOf: (question: Question) => RightAnswer | null = () => null,
): Notebook {
  const copy = withoutCells(notebook, ["answer"]);
  if (askedFor !== null) fillQuestions(copy, askedFor, rightOf);
  return copy;
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
