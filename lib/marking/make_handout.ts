import { join } from "@std/path";
import { removeLeftovers, temporaryName } from "../files/mod.ts";
import { joinText, type Notebook } from "../notebook/mod.ts";
import { sha256Of } from "../runtime/mod.ts";
import {
  checkClassSeed,
  deriveCaptureKey,
  type HandoutKey,
  newClassSeed,
  readKey,
  type StudentKey,
  writeKey,
} from "./handout_key.ts";
import { cellHashes } from "./hand_in/mod.ts";
import { type MakeCaptures, simulatedCaptures } from "./handout_captures.ts";
import { rightAnswers, studentKey, writeFolder } from "./handout_folder.ts";
import type { Criterion, Question } from "./questions/mod.ts";
import { studentNotebook, teacherNotebook } from "./student_notebook.ts";

/** Options of {@linkcode makeHandout}. */
export interface MakeHandoutOptions {
  /** Names of the students. */
  students: readonly string[];
  /**
   * Secret of the class, in hex, at least 128 bits; the key keeps it.
   *
   * @default {that of the key that is there, else a new one}
   */
  classSeed?: string;
  /** Folder for the students' folders. */
  outputFolder: string;
  /** Folder for the key and the teacher's notebook, apart from the others. */
  teacherFolder: string;
  /** File name of the assignment. */
  fileName: string;
  /** The questions. */
  questions: readonly Question[];
  /**
   * What is marked by hand.
   *
   * @default {[]}
   */
  criteria?: readonly Criterion[];
  /**
   * Makes the captures of a student.
   *
   * @default {simulatedCaptures}
   */
  makeCaptures?: MakeCaptures;
  /**
   * Told after each student.
   *
   * @default {() => {}}
   */
  onProgress?: (done: number, total: number) => void;
}

/** A handout that was made. */
export interface Handout {
  /** The key, as it stands in `key.json` in the teacher's folder. */
  readonly key: HandoutKey;
  /** Students who got a folder. */
  readonly added: readonly string[];
  /** Students whose folder was there and was not touched. */
  readonly kept: readonly string[];
}

/**
 * Writes a handout: a folder per student with the notebook without solutions and
 * captures of their own, and for the teacher the notebook with solutions and a
 * key with the truth of each student, which the owner alone can read.
 *
 * Where the teacher's folder holds a key of the same assignment, students are
 * added to it: folders that are there are never touched.
 *
 * @param assignment The assignment with its solutions.
 * @param options Students, seed, folders.
 * @returns The key, and who was added.
 * @throws {TypeError} If a question cannot be answered from the captures.
 * @throws {RangeError} If two students have the same name or folder, if the
 * key is that of another assignment or class, or if a folder is in the way.
 * @throws {SaveError} If something cannot be saved.
 */
export async function makeHandout(
  assignment: Notebook,
  options: MakeHandoutOptions,
): Promise<Handout> {
  const {
    students,
    outputFolder,
    teacherFolder,
    fileName,
    questions,
    criteria = [],
    makeCaptures = (key) => simulatedCaptures(key),
    onProgress = () => {},
  } = options;
  const forStudents = studentNotebook(assignment, { questions, criteria });
  const keyPath = join(teacherFolder, "key.json");
  const before = await readKey(keyPath);
  // Ids of cells may be new each time it is read
  const said = forStudents.cells.map(({ cell_type, source }) => [
    cell_type,
    joinText(source),
  ]);
  const notebookSha256 = sha256Of(
    new TextEncoder().encode(JSON.stringify(said)),
  );
  const classSeed = options.classSeed ?? before?.classSeed ?? newClassSeed();
  checkClassSeed(classSeed);
  if (before !== null) {
    refuseOther(before, { fileName, notebookSha256, classSeed, keyPath });
  }
  const known = new Map(
    (before?.students ?? []).map((each) => [each.student, each]),
  );
  const wanted = students.filter((student) => !known.has(student));
  const folders = wanted.map(folderName);
  const taken = [...known.values()].map(({ folder }) => folder);
  if (new Set([...taken, ...folders]).size !== taken.length + folders.length) {
    throw new RangeError(
      "Cannot make a handout as two students would have the same folder: give each a name of their own",
    );
  }
  await removeLeftovers(outputFolder);
  await removeLeftovers(teacherFolder);
  await refuseFolders(outputFolder, folders, keyPath);
  // Also those of a run that was killed: in the key, but not on the disk
  const todo: StudentPlan[] = [];
  for (const { student, folder } of known.values()) {
    const path = join(outputFolder, folder);
    if (!await isThere(path)) todo.push({ student, folder, path });
  }
  wanted.forEach((student, index) => {
    const folder = folders[index]!;
    todo.push({ student, folder, path: join(outputFolder, folder) });
  });
  let key: HandoutKey = {
    notebook: fileName,
    notebookSha256,
    classSeed,
    // Points may have been changed in the key since
    questions: before?.questions ?? questions,
    criteria: before?.criteria ?? criteria,
    cells: cellHashes(forStudents),
    students: before?.students ?? [],
  };
  await Deno.mkdir(teacherFolder, { recursive: true, mode: 0o700 });
  const solved = join(teacherFolder, fileName);
  if (!await isThere(solved)) {
    // No student's: none can have this empty name
    const captures = makeCaptures(await deriveCaptureKey(classSeed, ""), 0);
    const right = rightAnswers(questions, captures);
    await writeFolder(
      teacherFolder,
      teacherNotebook(
        assignment,
        { questions, criteria },
        ({ name }) => right.get(name) ?? null,
      ),
      { fileName, questions, captures },
    );
  }
  await writeKey(keyPath, key);
  for (const [index, { student, folder, path }] of todo.entries()) {
    const draft = join(outputFolder, temporaryName(folder));
    try {
      // One made again gets the captures of its place
      const place = key.students.findIndex((each) => each.student === student);
      const captures = makeCaptures(
        await deriveCaptureKey(classSeed, student),
        place < 0 ? key.students.length : place,
      );
      await writeFolder(draft, forStudents, { fileName, questions, captures });
      const entry = { student, folder, ...studentKey(questions, captures) };
      key = withStudent(key, entry);
      await writeKey(keyPath, key);
      await Deno.rename(draft, path);
    } catch (error) {
      await Deno.remove(draft, { recursive: true }).catch(() => {});
      throw error;
    }
    onProgress(index + 1, todo.length);
  }
  return {
    key,
    added: todo.map(({ student }) => student),
    kept: students.filter((student) =>
      todo.every((each) => each.student !== student)
    ),
  };
}

interface StudentPlan {
  readonly student: string;
  readonly folder: string;
  readonly path: string;
}

/** Refuses to add to the key of another assignment or class. */
function refuseOther(
  before: HandoutKey,
  { fileName, notebookSha256, classSeed, keyPath }: {
    fileName: string;
    notebookSha256: string;
    classSeed: string;
    keyPath: string;
  },
): void {
  const what = before.notebook !== fileName
    ? `of the assignment '${before.notebook}'`
    : before.notebookSha256 !== notebookSha256
    ? "of another version of the assignment"
    : before.classSeed.toLowerCase() !== classSeed.toLowerCase()
    ? "of a class with another seed"
    : null;
  if (what === null) return;
  throw new RangeError(
    `Cannot make a handout as '${keyPath}' is the key ${what}: nothing was changed. Choose other folders`,
  );
}

/** Refuses to write where a folder stands that the key does not know. */
async function refuseFolders(
  outputFolder: string,
  folders: readonly string[],
  keyPath: string,
): Promise<void> {
  const there: string[] = [];
  for (const folder of folders) {
    if (await isThere(join(outputFolder, folder))) there.push(folder);
  }
  if (there.length === 0) return;
  throw new RangeError(
    `Cannot make a handout as '${outputFolder}' holds folders that '${keyPath}' does not know: ${
      there.join(", ")
    }. Nothing was changed. Choose other folders`,
  );
}

function withStudent(key: HandoutKey, student: StudentKey): HandoutKey {
  const others = key.students.filter((each) =>
    each.student !== student.student
  );
  // One made again keeps its place
  const at = key.students.findIndex((each) => each.student === student.student);
  others.splice(at < 0 ? others.length : at, 0, student);
  return { ...key, students: others };
}

async function isThere(path: string): Promise<boolean> {
  try {
    await Deno.lstat(path);
    return true;
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return false;
    throw error;
  }
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
