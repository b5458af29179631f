/**
 * `deno task bench`: one table of what this library and the usual Python route
 * take for the same work on the same data, measured in turns.
 *
 * @module
 */
import { parseArgs } from "@std/cli/parse-args";
import { analysisRows } from "./analyses/rows.ts";
import { coldRows } from "./cold/rows.ts";
import { coreRows } from "./cores/rows.ts";
import { DataFolder } from "./data.ts";
import { describeMachine, findPython, load } from "./machine.ts";
import { measureRow } from "./measure_row.ts";
import { readingRows } from "./reading/rows.ts";
import type { Row } from "./row.ts";
import { tableHead, tableRow } from "./table.ts";

const usage = `deno task bench [options]

  --rows 1000000       rows of the text files; binary files hold ten times more
  --samples 10,100     millions of samples of the analyses; 1 for a short run
  --runs 5             timed pairs of each row
  --only TEXT          only rows whose name has TEXT in it
  --python PATH        Python with numpy, scipy and pandas
  --folder PATH        keep the data there; a temporary folder if left out`;

async function main(): Promise<void> {
  const flags = parseArgs(Deno.args, {
    string: ["rows", "samples", "runs", "only", "python", "folder"],
    boolean: ["help"],
  });
  if (flags.help) return console.log(usage);
  const rowCount = number("rows", flags.rows, 1e6);
  const runs = number("runs", flags.runs, 5);
  const millions = (flags.samples ?? "10,100").split(",").map((text: string) =>
    number("samples", text, NaN)
  );
  const python = await findPython(flags.python ?? null);
  const folder = flags.folder ??
    await Deno.makeTempDir({ prefix: "fringebook-bench-" });
  const data = new DataFolder(folder);
  const rows: Row[] = [
    ...readingRows(data, rowCount),
    ...coreRows(data, 5 * rowCount, Math.min(200, Math.ceil(rowCount / 5000))),
    ...coldRows(),
    ...analysisRows(data, millions),
  ].filter(({ name }) => name.includes(flags.only ?? ""));
  const started = performance.now();
  console.log(describeMachine(python));
  console.log(busy());
  console.log(`Median of ${runs} pairs.\n`);
  console.log(tableHead());
  try {
    for (const row of rows) {
      try {
        console.log(tableRow(await measureRow(row, runs, python)));
      } catch (error) {
        console.log(`${row.name}: failed: ${(error as Error).message}`);
        Deno.exitCode = 1;
      }
    }
  } finally {
    if (flags.folder === undefined) {
      await Deno.remove(folder, { recursive: true });
    }
  }
  console.log(
    "\nratio: their wall time by ours in the same pair, median; above 1 ours is faster. CPU: the same of CPU time.",
  );
  console.log(
    "memory: most a process held that did only this row, runtime included.",
  );
  console.log(
    `${busy()} Took ${
      ((performance.now() - started) / 60_000).toFixed(1)
    } min.`,
  );
}

function number(name: string, text: string | undefined, otherwise: number) {
  const value = text === undefined ? otherwise : Number(text);
  if (Number.isSafeInteger(value) && value > 0) return value;
  console.error(`--${name} is '${text}': give a whole number\n\n${usage}`);
  Deno.exit(2);
}

/** How busy the machine is beside this. */
function busy(): string {
  const mean = load();
  const cores = navigator.hardwareConcurrency;
  return `Load over the last minute: ${mean.toFixed(2)} on ${cores} cores${
    mean > 0.5 * cores ? ": others are at work, so wall times scatter" : ""
  }.`;
}

if (import.meta.main) await main();
