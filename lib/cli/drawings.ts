/**
 * `deno task drawings`: draws the pictures of the guide anew, the same bytes each
 * time, into `notebooks/guide/pictures/`.
 *
 * @module
 */
import { fromFileUrl, join } from "@std/path";
import { guideDrawings } from "../drawing/mod.ts";
import { writeWhole } from "../files/mod.ts";
import { readFlags, runTask, type Task, UsageError } from "./task/mod.ts";

const folder = fromFileUrl(
  new URL("../../notebooks/guide/pictures/", import.meta.url),
);

async function drawings(given: readonly string[]): Promise<number> {
  const what = "draw the pictures of the guide";
  const { rest } = readFlags({}, given, { task: what });
  if (rest.length > 0) {
    throw new UsageError(`Cannot ${what} with '${rest[0]}': it takes nothing`);
  }
  for (const [name, draw] of Object.entries(guideDrawings)) {
    await writeWhole(join(folder, name), draw());
  }
  console.log(`${Object.keys(guideDrawings).length} drawings in ${folder}`);
  return 0;
}

/** The task. */
export const task: Task = {
  name: "drawings",
  help: `deno task drawings

Draws the pictures of the guide anew into 'notebooks/guide/pictures/', the same
bytes each time.`,
  run: drawings,
};

if (import.meta.main) await runTask(task);
