/**
 * `deno task measure FILE …`: the notebooks' analysis for captures, from the
 * shell. Prints reports, or one JSON line per file with `--json`.
 *
 * Exit codes: 0 all files measured, 1 some failed, 2 wrong arguments.
 *
 * @module
 */
import { readArguments, usage } from "./measure/arguments.ts";
import { measureAll } from "./measure/measure_all.ts";
import { runTask, type Task } from "./task/mod.ts";

/** The task. */
export const task: Task = {
  name: "measure",
  help: usage,
  run: async (given) => {
    const { failed } = await measureAll(readArguments(given));
    return failed > 0 ? 1 : 0;
  },
};

if (import.meta.main) await runTask(task);
