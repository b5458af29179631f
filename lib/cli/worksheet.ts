/**
 * `deno task worksheet`: a page to print, for counting on a scope screen by hand.
 *
 * Exit codes: 0 written, 2 wrong arguments.
 *
 * @module
 */
import { dirname, fromFileUrl, join, relative, resolve } from "@std/path";
import { worksheetPage } from "../drawing/mod.ts";
import { writeWhole } from "../files/mod.ts";
import {
  flagHelp,
  readFlags,
  runTask,
  type Task,
  textFlag,
  UsageError,
} from "./task/mod.ts";

const root = fromFileUrl(new URL("../../", import.meta.url));

const flags = {
  "output": textFlag("The page.", "FILE", "out/worksheet.html"),
} as const;

async function worksheet(given: readonly string[]): Promise<number> {
  const what = "write a worksheet";
  const { values, rest } = readFlags(flags, given, { task: what });
  if (rest.length > 0) {
    throw new UsageError(
      `Cannot ${what} with '${rest[0]}': name the page with --output`,
    );
  }
  const path = values.output === undefined
    ? join(root, "out", "worksheet.html")
    : resolve(values.output);
  await Deno.mkdir(dirname(path), { recursive: true });
  await writeWhole(path, worksheetPage());
  console.log(
    `${relative(Deno.cwd(), path)}: three pages, to be printed from a browser`,
  );
  return 0;
}

/** The task. */
export const task: Task = {
  name: "worksheet",
  help: `deno task worksheet [options]

Writes a page to print, for counting on a scope screen by hand: an empty screen,
tables for motion, speed, tuning and distance, squared paper.

${flagHelp(flags)}

Exit codes: 0 written, 2 wrong arguments.`,
  run: worksheet,
};

if (import.meta.main) await runTask(task);
