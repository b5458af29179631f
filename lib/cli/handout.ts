/**
 * `deno task handout`: writes a folder per student, with own captures, and a key
 * for the teacher.
 *
 * @module
 */
import { basename, fromFileUrl, join } from "@std/path";
import { makeHandout } from "../marking/mod.ts";
import { readNotebook } from "../notebook/mod.ts";
import {
  readFlags,
  runTask,
  type Task,
  textFlags,
  UsageError,
} from "./task/mod.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

const usage = `deno task handout --students "Ada,Grace,Emmy" [options]

  --students NAMES     names, separated by commas; or a file with one per line
  --assignment FILE    the assignment with its solutions
                       (notebooks/assignments/three_measurements.ipynb)
  --seed HEX           secret of the class, 32 hex digits or more; a new one if
                       left out; the key keeps it
  --output FOLDER      folder of the students' folders (out/handout)
  --teacher FOLDER     folder of the key and the solutions (out/teacher);
                       keep it to yourself

Where the teacher's folder holds the key of the same assignment, students are
added; folders that are there are never touched.`;

const known = textFlags("students", "assignment", "seed", "output", "teacher");

async function handout(given: readonly string[]): Promise<number> {
  const what = "make a handout";
  const { values: flags, rest } = readFlags(known, given, { task: what });
  if (rest.length > 0) {
    throw new UsageError(
      `Cannot ${what} with '${rest[0]}': students are named with --students`,
    );
  }
  if (flags.students === undefined) {
    throw new UsageError(
      `Cannot ${what} as '--students' is missing: add, say, --students "Ada,Grace"`,
    );
  }
  const assignment = flags.assignment ||
    join(root, "notebooks", "assignments", "three_measurements.ipynb");
  const output = flags.output || join(root, "out", "handout");
  const teacher = flags.teacher || join(root, "out", "teacher");
  const students = await readStudents(flags.students);
  const { key, added, kept } = await makeHandout(
    await readNotebook(assignment),
    {
      students,
      ...(flags.seed ? { classSeed: flags.seed } : {}),
      outputFolder: output,
      teacherFolder: teacher,
      fileName: basename(assignment),
      onProgress: (done, total) => {
        if (Deno.stderr.isTerminal()) {
          Deno.stderr.writeSync(
            new TextEncoder().encode(`\r${done} of ${total} students`),
          );
        }
      },
    },
  );
  console.log(
    `Handout for ${key.students.length} students: ${output}` +
      (kept.length > 0
        ? ` (${added.length} added, ${kept.length} were there and were not touched)`
        : ""),
  );
  console.log(`Key and solutions, for the teacher only: ${teacher}`);
  return 0;
}

/** Names from the argument itself, or from a file with one per line. */
async function readStudents(given: string): Promise<string[]> {
  let text = given.replaceAll(",", "\n");
  try {
    text = await Deno.readTextFile(given);
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
  }
  return text.split(/\r?\n/).map((name) => name.trim()).filter(Boolean);
}

/** The task. */
export const task: Task = { name: "handout", help: usage, run: handout };

if (import.meta.main) await runTask(task);
