/**
 * `deno task mark FOLDER`: runs hand-ins with few permissions and with limits,
 * and writes points, reasons and an overview of the class.
 *
 * @module
 */
import { dirname, fromFileUrl, join, resolve } from "@std/path";
import { writeWhole } from "../files/mod.ts";
import {
  defaultLimits,
  emptyHandTable,
  type HandoutKey,
  markFolder,
  marksTable,
  type PointsByHand,
  readHandTable,
  readKey,
  writeMarks,
} from "../marking/mod.ts";
import {
  numberFlags,
  readFlags,
  runTask,
  type Task,
  textFlags,
  UsageError,
} from "./task/mod.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

const usage = `deno task mark FOLDER [options]

  FOLDER               folder with one folder per student
  --key FILE           the teacher's key (beside FOLDER: teacher/key.json)
  --output FOLDER      folder of marks.csv, marks.html and a page per
                       student (beside FOLDER: marks)
  --cpu 300            processor time of one hand-in, in s
  --cell-cpu 120       processor time of one cell, in s
  --idle 60            how long a hand-in may wait for nothing, in s
  --memory 1024        memory of one hand-in, in MB
  --disk 512           all that one hand-in writes, in MB
  --jobs 2             hand-ins run at the same time

Hand-ins that did not change since the last time are graded again from what they
answered, not run again: change points in the key and mark once more. Where the
course has criteria that are marked by hand, by_hand.csv in the output is the
table for them: fill it in and mark once more.`;

const known = {
  ...textFlags("key", "output"),
  ...numberFlags("cpu", "cell-cpu", "idle", "memory", "disk", "jobs"),
};

async function mark(given: readonly string[]): Promise<number> {
  const what = "mark hand-ins";
  const { values: flags, rest } = readFlags(known, given, { task: what });
  const [folder] = rest;
  if (folder === undefined || rest.length > 1) {
    throw new UsageError(
      `Cannot ${what} as one folder is taken, and ${rest.length} were given`,
    );
  }
  const beside = dirname(resolve(folder));
  const keyPath = flags.key || join(beside, "teacher", "key.json");
  const output = flags.output || join(beside, "marks");
  const key = await readKey(keyPath);
  if (key === null) {
    throw new RangeError(
      `Cannot mark as there is no key '${keyPath}': name it with --key`,
    );
  }
  const handPath = join(output, "by_hand.csv");
  const byHand = await pointsByHand(handPath, key);
  const { cpuTime, cellCpuTime, idleTime, memory, disk } = defaultLimits;
  const marks = await markFolder(folder, {
    key,
    // Neither the key nor other hand-ins; nor anything else that was written.
    withheld: [join(root, "out"), dirname(resolve(keyPath))],
    limits: {
      cpuTime: flags.cpu ?? cpuTime,
      cellCpuTime: flags["cell-cpu"] ?? cellCpuTime,
      idleTime: flags.idle ?? idleTime,
      memory: flags.memory ?? memory,
      disk: flags.disk ?? disk,
    },
    storeFolder: output,
    byHand,
    jobs: flags.jobs ?? 2,
    onProgress: async (mark, soFar, total) => {
      const own = { mode: 0o600 };
      await writeWhole(join(output, "marks.csv"), marksTable(soFar.marks), own);
      const { student, points, maximum, run } = mark;
      console.error(
        `${soFar.marks.length} of ${total}: ${student}, ${points} of ${maximum} points (${run})`,
      );
    },
  });
  await writeMarks(output, marks, `Marks: ${key.notebook}`);
  for (const { folder, nearest } of marks.unknown) {
    console.error(
      `Not marked: the key does not know the folder '${folder}'${
        nearest === null ? "" : ` (nearest: '${nearest}')`
      }`,
    );
  }
  if (marks.missing.length > 0) {
    console.error(`Without a folder: ${marks.missing.join(", ")}`);
  }
  if (key.criteria.length > 0) {
    console.log(`Points by hand, to be filled in: ${handPath}`);
  }
  console.log(
    `Marks: ${join(output, "marks.csv")}, marks.html and students/`,
  );
  return 0;
}

/** What the teacher gave by hand; the table for it is made where there is none. */
async function pointsByHand(
  path: string,
  key: HandoutKey,
): Promise<PointsByHand> {
  if (key.criteria.length === 0) return new Map();
  let text: string;
  try {
    text = await Deno.readTextFile(path);
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    text = emptyHandTable(key);
    await writeWhole(path, text, { mode: 0o600 });
  }
  return readHandTable(text, key, path);
}

/** The task. */
export const task: Task = { name: "mark", help: usage, run: mark };

if (import.meta.main) await runTask(task);
