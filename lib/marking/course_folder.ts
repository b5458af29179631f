import { dirname, join } from "@std/path";
import { type Notebook, readNotebook } from "../notebook/mod.ts";
import { type MakeCaptures, simulatedCaptures } from "./handout_captures.ts";
import { writeHandoutData } from "./handout_folder.ts";
import { readOwnBench } from "./own_bench.ts";
import { type QuestionsFile, readQuestions } from "./questions/mod.ts";

/** Name of the questions file of a course. */
export const questionsFile = "questions.yaml";

/** A course: assignment, questions and captures. */
export interface Course extends QuestionsFile {
  /** Folder of the course. */
  readonly folder: string;
  /** The assignment with its solutions. */
  readonly assignment: Notebook;
  readonly makeCaptures: MakeCaptures;
}

/**
 * Opens a course: a folder with `questions.yaml`, the assignment that it names
 * and, where it names one, a bench.
 *
 * @param path The folder, or the questions file.
 * @returns The course; all its files were read.
 * @throws {SyntaxError} If a file is damaged.
 * @throws {TypeError} If something is missing or has no meaning.
 * @throws {RangeError} If there is no such course.
 */
export async function openCourse(path: string): Promise<Course> {
  const isFile = /\.ya?ml$/i.test(path);
  const folder = isFile ? dirname(path) : path;
  const file = isFile ? path : join(path, questionsFile);
  const content = await orExplain(
    readQuestions(file),
    `there is no '${file}': 'deno task new-course FOLDER' makes a course`,
  );
  const { bench, simulated } = content;
  const notebook = join(folder, content.notebook);
  const assignment = await orExplain(
    readNotebook(notebook),
    `'${file}' names the notebook '${content.notebook}', and there is no '${notebook}'`,
  );
  const own = bench === null ? () => [] : await orExplain(
    readOwnBench(join(folder, bench)),
    `'${file}' names the bench '${bench}', and there is no captures.yaml in it`,
  );
  return {
    ...content,
    folder,
    assignment,
    makeCaptures: (key, index) => {
      const made = simulated.length === 0
        ? []
        : simulatedCaptures(key, simulated);
      const all = [...made, ...own(index)];
      const names = all.map(({ name }) => name);
      const twice = names.find((name, at) => names.indexOf(name) !== at);
      if (twice === undefined) return all;
      throw new RangeError(
        `Cannot hand out two captures with the name '${twice}': one is simulated, one of the bench`,
      );
    },
  };
}

/**
 * Writes the captures of nobody beside the assignment, so that it can be opened
 * and run where it lies.
 *
 * @param course The course.
 */
export async function writeDemonstration(course: Course): Promise<void> {
  const { folder, questions, makeCaptures } = course;
  const captures = makeCaptures(new Uint8Array(32), 0);
  await writeHandoutData(join(folder, "data"), questions, captures);
}

async function orExplain<T>(work: Promise<T>, why: string): Promise<T> {
  try {
    return await work;
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    throw new RangeError(`Cannot open the course as ${why}`);
  }
}
