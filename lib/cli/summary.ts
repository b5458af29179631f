/**
 * `deno task summary RESULTS.jsonl …`: makes a notebook that sums up what
 * `deno task measure … --output` wrote, runs it, and writes its page.
 *
 * Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.
 *
 * @module
 */
import { basename, join, resolve } from "@std/path";
import { readBatch } from "../batch/mod.ts";
import { datedName, freshFolder } from "./note/note_folder.ts";
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
  help: `deno task summary RESULTS.jsonl … [options]

Makes a notebook that sums up the JSON lines which 'deno task measure FILE …
--output RESULTS.jsonl' wrote, runs it, and writes its page. Several files, such
as the parts of an array job, are joined: each capture counts once, and those
that two files hold with other results are named.

${flagHelp(flags)}

Exit codes: 0 the notebook ran, 1 a cell failed, 2 wrong arguments.`,
  run: summary,
};

async function summary(given: readonly string[]): Promise<number> {
  const { values, rest } = readFlags(flags, given, { task: "sum up results" });
  const results = [...new Set(rest)];
  if (results.length === 0) {
    throw new UsageError(
      "Cannot sum up results as at least one file with them is taken, and 0 were given",
    );
  }
  // What cannot be read makes no folder.
  const { outcomes, conflicts = [] } = await readBatch(results);
  const names = namesOf(results);
  if (results.length > 1) {
    console.log(
      `${outcomes.length} captures in ${results.length} files, ${conflicts.length} of them with other results in two`,
    );
  }
  const { folder, name } = await freshFolder(
    resolve(values.output ?? join(root, "out", "summaries")),
    datedName(results[0]!),
  );
  for (const [i, path] of results.entries()) {
    await Deno.copyFile(path, join(folder, names[i]!));
  }
  return await runNote({
    template: "summary.ipynb",
    folder,
    name,
    parameters: { file: names.length === 1 ? names[0] : names },
  });
}

/** Names of the copies, which lie in one folder. */
function namesOf(paths: readonly string[]): string[] {
  const taken = new Set<string>();
  return paths.map((path) => {
    let name = basename(path);
    for (let i = 2; taken.has(name); i++) name = `${i}-${basename(path)}`;
    taken.add(name);
    return name;
  });
}

if (import.meta.main) await runTask(task);
