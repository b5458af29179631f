/**
 * `deno task handout`: writes a folder per student, with own captures, and a key
 * for the teacher.
 *
 * @module
 */
import { dirname, fromFileUrl, join, resolve } from "@std/path";
import {
  makeHandout,
  openCourse,
  untaggedQuestions,
  writeDemonstration,
} from "../marking/mod.ts";
import {
  readFlags,
  runTask,
  type Task,
  textFlags,
  UsageError,
} from "./task/mod.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

const usage = `deno task handout [COURSE] --students "Ada,Grace,Emmy" [options]

  COURSE               folder with questions.yaml, assignment and captures, as
                       'deno task new-course' makes it (three measurements,
                       simulated anew for each student)
  --students NAMES     names, separated by commas; or a file with one per line
  --seed HEX           secret of the class, 32 hex digits or more; a new one if
                       left out; the key keeps it
  --output FOLDER      folder of the students' folders (COURSE/handout, or
                       out/handout)
  --teacher FOLDER     folder of the key and the solutions (beside the output:
                       teacher); keep it to yourself

Where the teacher's folder holds the key of the same assignment, students are
added; folders that are there are never touched.`;

const known = textFlags("students", "seed", "output", "teacher");

async function handout(given: readonly string[]): Promise<number> {
  const what = "make a handout";
  const { values: flags, rest } = readFlags(known, given, { task: what });
  if (rest.length > 1) {
    throw new UsageError(
      `Cannot ${what} with '${
        rest[1]
      }': one course is taken, and students are named with --students`,
    );
  }
  if (flags.students === undefined) {
    throw new UsageError(
      `Cannot ${what} as '--students' is missing: add, say, --students "Ada,Grace"`,
    );
  }
  const [path] = rest;
  const course = await openCourse(
    path ?? join(root, "notebooks", "assignments"),
  );
  const output = resolve(
    flags.output ||
      join(path === undefined ? join(root, "out") : course.folder, "handout"),
  );
  const teacher = flags.teacher || join(dirname(output), "teacher");
  const { questions, criteria, makeCaptures, notebook } = course;
  const { key, added, kept } = await makeHandout(
    course.assignment,
    {
      students: await readStudents(flags.students),
      ...(flags.seed ? { classSeed: flags.seed } : {}),
      outputFolder: output,
      teacherFolder: teacher,
      fileName: notebook,
      questions,
      criteria,
      makeCaptures,
      onProgress: (done, total) => {
        if (Deno.stderr.isTerminal()) {
          Deno.stderr.writeSync(
            new TextEncoder().encode(`\r${done} of ${total} students`),
          );
        }
      },
    },
  );
  if (path !== undefined) await writeDemonstration(course);
  for (const name of untaggedQuestions(course.assignment, questions)) {
    console.error(
      `The text of '${name}' stands in no cell: tag a Markdown cell of '${notebook}' with 'question:${name}', in a new course`,
    );
  }
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
