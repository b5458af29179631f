import { join } from "@std/path";
import { writeWhole } from "../../files/mod.ts";
import type { ClassMarks } from "../mark_folder.ts";
import { classOverview } from "./class_overview.ts";
import { marksTable } from "./marks_table.ts";
import { studentPage } from "./student_page.ts";

/**
 * Writes the marks of a class: `marks.csv`, `marks.html`, and a page per student
 * in `students/`. Their owner alone can read them.
 *
 * @param folder Where to.
 * @param classMarks The marks.
 * @param title Title of the assignment.
 * @throws {SaveError} If something cannot be saved.
 */
export async function writeMarks(
  folder: string,
  classMarks: ClassMarks,
  title: string,
): Promise<void> {
  const own = { mode: 0o600 };
  const write = (name: string, text: string) =>
    writeWhole(join(folder, name), text, own);
  const { marks } = classMarks;
  await write("marks.csv", marksTable(marks));
  await write(
    "marks.html",
    classOverview(classMarks, title, {
      pageOf: ({ folder }) => `students/${encodeURIComponent(folder)}.html`,
    }),
  );
  for (const mark of marks) {
    await write(`students/${mark.folder}.html`, studentPage(mark, title));
  }
}
