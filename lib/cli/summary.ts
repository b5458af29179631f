/**
 * `deno task summary RESULTS.jsonl`: makes a notebook that sums up what
 * `deno task measure … --output` wrote, runs it, and writes its page.
 *
 * Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, join, resolve } from "@std/path";
import { readBatch } from "../batch/mod.ts";
import { copyWith, datedName, freshFolder } from "./note/note_folder.ts";
import { root, runNote } from "./note/run_note.ts";
import {
  flagHelp,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const flags = {
  "output": textFlag(
    "Where the notebook's folder goes.",
    "FOLDER",
    "out/summaries",
  ),
} as const;

/** The task. */
export const task: Task = {
  name: "summary",
  help: `deno task summary RESULTS.jsonl [options]

Makes a notebook that sums up the JSON lines which 'deno task measure FILE …
--output RESULTS.jsonl' wrote, runs it, and writes its page.

${flagHelp(flags)}

Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.`,
  run: summary,
};

async function summary(given: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, given, { task: "sum up results" });
  const [results, ...others] = rest;
  if (results === undefined || others.length > 0) {
    throw new UsageError(
      `Cannot sum up results as one file is taken, and ${rest.length} were given`,
    );
  }
  // What cannot be read makes no folder.
  await readBatch(results);
  const { folder, name } = await freshFolder(
    resolve(values.output ?? join(root, "out", "summaries")),
    datedName(results),
  );
  await copyWith(results, folder);
  return await runNote({
    template: "summary.ipynb",
    folder,
    name,
    parameters: { file: basename(results) },
  });
}

if (import.meta.main) await runTask(task);
