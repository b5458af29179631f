/**
 * `deno task new-course FOLDER`: makes a course that works: questions, assignment
 * with solutions, captures.
 *
 * @module
 */
import { fromFileUrl, join } from "@std/path";
import { datasetFolder } from "../datasets/mod.ts";
import { writeWhole } from "../files/mod.ts";
import { openCourse, writeDemonstration } from "../marking/mod.ts";
import { readFlags, runTask, type Task, UsageError } from "./task/mod.ts";

const template = new URL("../../notebooks/templates/course/", import.meta.url);
/** Captures of the simulated bench that lie in the bench of a new course. */
const captures = ["vibration.wav", "disc-1.wav", "disc-2.wav", "disc-3.wav"];

/** The task. */
export const task: Task = {
  name: "new-course",
  help: `deno task new-course FOLDER

Makes a course in a new folder: questions.yaml, a lab sheet with quiz, solutions
and model answers, a bench with captures, a class of three. It works as it is;
change it into your own. 'deno task handout FOLDER' hands it out.`,
  run: newCourse,
};

async function newCourse(given: readonly string[]): Promise<number> {
  const what = "make a course";
  const { rest } = readFlags({}, given, { task: what });
  const [folder] = rest;
  if (folder === undefined || rest.length > 1) {
    throw new UsageError(
      `Cannot ${what} as one folder is taken, and ${rest.length} were given`,
    );
  }
  await refuseFull(folder);
  const copy = async (from: URL, to: string) =>
    await writeWhole(join(folder, to), await Deno.readFile(from));
  // Solutions lie in it: no student of a shared machine may look
  await Deno.mkdir(folder, { recursive: true, mode: 0o700 });
  await Deno.mkdir(join(folder, "bench"), { recursive: true });
  for (const part of ["", "bench/"]) {
    for await (
      const { name, isFile } of Deno.readDir(new URL(part, template))
    ) {
      if (isFile) await copy(new URL(part + name, template), part + name);
    }
  }
  for (const name of captures) {
    await copy(new URL(name, datasetFolder), `bench/${name}`);
  }
  await writeDemonstration(await openCourse(folder));
  const project = fromFileUrl(new URL("../../", import.meta.url));
  console.log(`Course: ${folder}; its README.md says how to go on`);
  console.log(
    `Hand it out, from ${project}: deno task handout ${folder} --students ${
      join(folder, "names.txt")
    }`,
  );
  return 0;
}

/** A folder that holds something is never written into. */
async function refuseFull(folder: string): Promise<void> {
  try {
    for await (const { name } of Deno.readDir(folder)) {
      throw new UsageError(
        `Cannot make a course in '${folder}' as it is not empty (it holds '${name}'): choose a new folder`,
      );
    }
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
  }
}

if (import.meta.main) await runTask(task);
