import { join } from "@std/path";
import { makeStudentSet } from "../datasets/mod.ts";
import { type Notebook, writeNotebook, writeWhole } from "../notebook/mod.ts";
import { type Question, questionsOf } from "./question.ts";
import { studentNotebook, teacherNotebook } from "./student_notebook.ts";

/** What the teacher keeps of one student. */
export interface StudentKey {
  /** Name as given. */
  readonly student: string;
  /** Folder of the student's handout. */
  readonly folder: string;
  /** Seed of the student's captures. */
  readonly seed: number;
  /** True value of each question, by its name, in its unit. */
  readonly truth: Readonly<Record<string, number>>;
}

/** What the teacher keeps of a class. */
export interface HandoutKey {
  /** File name of the assignment. */
  readonly notebook: string;
  readonly questions: readonly Question[];
  readonly students: readonly StudentKey[];
}

/** Options of {@linkcode makeHandout}. */
export interface MakeHandoutOptions {
  /** Names of the students. */
  students: readonly string[];
  /** Seed of the class, an integer from 0 to 2³² − 1. */
  seed: number;
  /** Folder for the students' folders. */
  outputFolder: string;
  /** Folder for the key and the teacher's notebook, apart from the others. */
  teacherFolder: string;
  /** File name of the assignment. */
  fileName: string;
  /**
   * Told after each student.
   *
   * @default {() => {}}
   */
  onProgress?: (done: number, total: number) => void;
}

/**
 * Writes a handout: a folder per student with the notebook without solutions and
 * captures of their own, and for the teacher the notebook with solutions and a
 * key with the truth of each student.
 *
 * @param assignment The assignment with its solutions.
 * @param options Students, seed, folders.
 * @returns The key, as written to `key.json` in the teacher's folder.
 * @throws {TypeError} If the assignment has no questions.
 * @throws {RangeError} If two students have the same name or folder.
 */
export async function makeHandout(
  assignment: Notebook,
  options: MakeHandoutOptions,
): Promise<HandoutKey> {
  const {
    students,
    seed,
    outputFolder,
    teacherFolder,
    fileName,
    onProgress = () => {},
  } = options;
  const questions = questionsOf(assignment);
  const folders = students.map(folderName);
  if (new Set(folders).size !== folders.length) {
    throw new RangeError(
      "Cannot make a handout as two students would have the same folder: give each a name of their own",
    );
  }
  const forStudents = studentNotebook(assignment);
  delete forStudents.metadata["fringebook"];
  const keys: StudentKey[] = [];
  for (const [index, student] of students.entries()) {
    const own = await seedOf(seed, student);
    const folder = folders[index]!;
    const truth = await writeStudent(
      join(outputFolder, folder),
      forStudents,
      { fileName, seed: own, questions },
    );
    keys.push({ student, folder, seed: own, truth });
    onProgress(index + 1, students.length);
  }
  const key: HandoutKey = { notebook: fileName, questions, students: keys };
  await Deno.mkdir(teacherFolder, { recursive: true });
  await writeStudent(teacherFolder, teacherNotebook(assignment), {
    fileName,
    seed,
    questions,
  });
  await writeWhole(
    join(teacherFolder, "key.json"),
    JSON.stringify(key, null, 2) + "\n",
  );
  return key;
}

/** Writes notebook and captures; returns the truth of each question. */
async function writeStudent(
  folder: string,
  notebook: Notebook,
  { fileName, seed, questions }: {
    fileName: string;
    seed: number;
    questions: readonly Question[];
  },
): Promise<Record<string, number>> {
  await Deno.mkdir(join(folder, "data"), { recursive: true });
  await writeNotebook(join(folder, fileName), notebook);
  const captures = makeStudentSet(seed);
  for (const { bytes, entry } of captures) {
    await writeWhole(join(folder, "data", entry.file), bytes);
  }
  const bench = Object.fromEntries(
    captures.map(({ entry: { name, file, what, reading, known } }) => [
      name,
      { file, what, reading, known },
    ]),
  );
  await writeWhole(
    join(folder, "data", "bench.json"),
    JSON.stringify(bench, null, 2) + "\n",
  );
  return Object.fromEntries(questions.map(({ name, dataset, truth }) => {
    const entry = captures.find(({ entry }) => entry.name === dataset)?.entry;
    const value = entry?.truth[truth]?.value;
    if (value === undefined) {
      throw new TypeError(
        `Cannot make a handout as there is no '${truth}' of '${dataset}': the captures are ${
          captures.map(({ entry }) => entry.name).join(", ")
        }`,
      );
    }
    return [name, value];
  }));
}

/** A folder name that every file system takes. */
function folderName(student: string): string {
  const name = student.normalize("NFKD").replace(/[^\w-]+/g, "_")
    .replace(/^_+|_+$/g, "").slice(0, 60);
  if (name === "") {
    throw new RangeError(
      `Cannot make a handout as the name '${student}' has no letters or digits`,
    );
  }
  return name;
}

/** A seed that depends on the class and the student's name only. */
async function seedOf(seed: number, student: string): Promise<number> {
  const bytes = new TextEncoder().encode(`${seed}\n${student}`);
  const hash = await crypto.subtle.digest("SHA-256", bytes);
  return new DataView(hash).getUint32(0);
}
