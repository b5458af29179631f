/**
 * `deno task datasets`: simulates the bench anew and writes `datasets/`.
 *
 * @module
 */
import { fromFileUrl } from "@std/path";
import { writeWhole } from "../files/mod.ts";
import { datasetFolder, makeDatasets } from "../datasets/mod.ts";
import { readFlags, runTask, type Task, UsageError } from "./task/mod.ts";

/** The task. */
export const task: Task = {
  name: "datasets",
  help: `deno task datasets

Simulates the bench anew and writes its captures into 'datasets/', the same
bytes each time.`,
  run: datasets,
};

async function datasets(given: readonly string[]): Promise<number> {
  const what = "make the datasets";
  const { rest } = readFlags({}, given, { task: what });
  if (rest.length > 0) {
    throw new UsageError(`Cannot ${what} with '${rest[0]}': it takes nothing`);
  }
  const { files, manifest } = makeDatasets();
  let total = 0;
  for (const [name, bytes] of files) {
    await writeWhole(fromFileUrl(new URL(name, datasetFolder)), bytes);
    total += bytes.length;
  }
  console.log(
    `${manifest.datasets.length} captures, ${(total / 1e6).toFixed(2)} MB`,
  );
  return 0;
}

if (import.meta.main) await runTask(task);
