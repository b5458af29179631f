/**
 * `deno task mark FOLDER`: runs hand-ins with few permissions and with limits,
 * and writes points, reasons and an overview of the class.
 *
 * @module
 */
import { fromFileUrl, join } from "@std/path";
import {
  classOverview,
  type HandoutKey,
  markFolder,
  marksTable,
} from "../marking/mod.ts";
import { writeWhole } from "../notebook/mod.ts";
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
  --key FILE           the teacher's key (out/teacher/key.json)
  --output FOLDER      folder of marks.csv and marks.html (out/marks)
  --cell-timeout 60    longest time of one cell, in s
  --timeout 180        longest time of one hand-in, in s
  --memory 1024        memory of one hand-in, in MB
  --jobs 2             hand-ins run at the same time`;

const known = {
  ...textFlags("key", "output"),
  ...numberFlags("cell-timeout", "timeout", "memory", "jobs"),
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
  const keyPath = flags.key || join(root, "out", "teacher", "key.json");
  const output = flags.output || join(root, "out", "marks");
  const key = JSON.parse(await Deno.readTextFile(keyPath)) as HandoutKey;
  const marks = await markFolder(folder, {
    key,
    // Neither the key nor other hand-ins; nor anything else that was written.
    withheld: [join(root, "out"), keyPath, folder],
    cellTimeout: flags["cell-timeout"] ?? 60,
    timeout: flags.timeout ?? 180,
    memoryLimit: flags.memory ?? 1024,
    jobs: flags.jobs ?? 2,
    onProgress: ({ student, points, maximum, run }, done, total) =>
      console.error(
        `${done} of ${total}: ${student}, ${points} of ${maximum} points (${run})`,
      ),
  });
  await writeWhole(join(output, "marks.csv"), marksTable(marks));
  await writeWhole(
    join(output, "marks.html"),
    classOverview(marks, "Marks of the class"),
  );
  console.log(`Marks: ${join(output, "marks.csv")} and marks.html`);
  return 0;
}

/** The task. */
export const task: Task = { name: "mark", help: usage, run: mark };

if (import.meta.main) await runTask(task);
