/**
 * `deno task run`: runs notebooks without a browser.
 *
 * @module
 */
import { basename, join } from "@std/path";
import {
  grantsOfFlags,
  isGrant,
  parseMemoryLimit,
} from "../kernel/launch/mod.ts";
import { describeLevel, systemMeans } from "../kernel/confine/mod.ts";
import {
  type NotebookOutcome,
  parseParameter,
  renderPage,
  runMany,
  type RunProgress,
  runSummary,
  SaveError,
  shardOf,
  writeWhole,
} from "../notebook/mod.ts";
import { shardFlag } from "./shard.ts";
import { createStatusLine } from "./status_line.ts";
import {
  flagHelp,
  inColumns,
  loneFlag,
  manyFlag,
  readFlags,
  runTask,
  type Task,
  textFlag,
} from "./task/mod.ts";

const flags = {
  "output": textFlag(
    "Save the executed notebooks there.",
    "FOLDER",
    "in place",
  ),
  "page": loneFlag("Also write a self-contained HTML page beside each."),
  "parameter": manyFlag(
    "Set a parameter declared in the cell tagged 'parameters'; may be repeated; the value is JSON or text.",
    "NAME=VALUE",
  ),
  "timeout": textFlag("Longest time of one cell.", "SECONDS", "no limit"),
  "allow-errors": loneFlag(
    "Go on after a cell that throws, and count it as good.",
  ),
  "parallel": textFlag("Run N notebooks at the same time.", "N", "1"),
  "resume": loneFlag(
    "Keep notebooks that ran well before on this machine, if neither they nor the files beside them changed.",
  ),
  "shard": shardFlag(),
  "json": textFlag(
    "Write a summary for machines; '-' is standard output.",
    "FILE",
  ),
  "memory-limit": textFlag("Limit of a session's memory, in MiB.", "MIB"),
  "quiet": loneFlag("Print only failures."),
} as const;

const help = `deno task run NOTEBOOK… [options]

Runs notebooks from top to bottom, each in a fresh session. NOTEBOOK is an
.ipynb file or a folder, whose notebooks are run in the order of their names.
The executed notebook is saved also when a cell fails.

${flagHelp(flags)}
${
  inColumns(
    "  --allow-net=HOST …",
    "Permission for the notebooks, as Deno's flags: read, write, net, env, run, ffi, sys, import.",
  )
}

Exit codes:
  0  every notebook ran well
  1  a cell failed, took too long, or lost its session; or it was stopped
  2  wrong arguments, a file is no notebook, or the result cannot be saved
  130  stopped by the person (Ctrl+C); what did not run is 'not run'`;

function readArguments(given: readonly string[]) {
  const { values, rest } = readFlags(
    flags,
    given.filter((word) => !isGrant(word)),
    { task: "run notebooks" },
  );
  return {
    ...values,
    parallel: values.parallel ?? "1",
    parameter: values.parameter ?? [],
    quiet: values.quiet === true,
    grants: given.filter(isGrant),
    paths: rest,
  };
}

type Arguments = ReturnType<typeof readArguments>;

function numberOf(name: string, text: string): number {
  const value = Number(text);
  if (text.trim() === "" || !(value > 0)) {
    throw new RangeError(
      `Cannot run notebooks as '--${name}' must be a positive number: current value is ${text}`,
    );
  }
  return value;
}

/** Notebooks of the files and folders named, sorted within a folder. */
async function notebooksOf(paths: readonly string[]): Promise<string[]> {
  const found: string[] = [];
  for (const path of paths) {
    const { isDirectory } = await Deno.stat(path).catch(() => {
      throw new RangeError(`Cannot run '${path}' as there is no such file`);
    });
    if (!isDirectory) {
      found.push(path);
      continue;
    }
    const names: string[] = [];
    for await (const entry of Deno.readDir(path)) {
      if (entry.isFile && /^[^.].*\.ipynb$/.test(entry.name)) {
        names.push(entry.name);
      }
    }
    found.push(...names.sort().map((name) => join(path, name)));
  }
  if (found.length === 0) {
    throw new RangeError("Cannot run notebooks as none was named; see --help");
  }
  return found;
}

async function writePages(outcomes: readonly NotebookOutcome[]): Promise<void> {
  for (const { run, outputPath, path } of outcomes) {
    if (run === null) continue;
    const page = await renderPage(run.notebook, { path });
    await writeWhole(outputPath.replace(/\.ipynb$/, "") + ".html", page);
  }
}

function progressLine({ path, done, total, cell }: RunProgress): string {
  if (cell === null) return `${path}: ${total} cells`;
  const { index, status, duration } = cell;
  return `${path}: ${done}/${total}  cell ${index + 1}  ${status}  ${
    duration.toFixed(1)
  } s`;
}

function tellOutcome({ path, run, error }: NotebookOutcome, quiet: boolean) {
  if (run === null) {
    const what = error instanceof SaveError ? "not saved" : "not run";
    console.error(`${path}: ${what}. ${error.message}`);
  } else if (run.status === "failed") {
    console.error(`${path}: failed. ${run.summary}`);
    const failure = run.cells[run.failed ?? 0]?.error;
    for (const line of failure?.traceback ?? []) console.error(`  ${line}`);
  } else if (!quiet) {
    console.error(`${path}: ${run.summary} (${run.duration.toFixed(1)} s)`);
  }
}

async function run(args: Arguments): Promise<number> {
  const all = await notebooksOf(args.paths);
  const paths = args.shard === undefined ? all : shardOf(all, args.shard);
  if (!args.quiet) console.error(`${describeLevel(systemMeans())}.`);
  const status = createStatusLine();
  const stop = new AbortController();
  const onInterrupt = () => stop.abort();
  Deno.addSignalListener("SIGINT", onInterrupt);
  const memoryLimit = args["memory-limit"];
  const outcomes = await runMany(paths, {
    outputFolder: args.output ?? null,
    parallel: numberOf("parallel", args.parallel),
    timeout: args.timeout ? numberOf("timeout", args.timeout) : Infinity,
    parameters: Object.fromEntries(args.parameter.map(parseParameter)),
    allowErrors: args["allow-errors"] === true,
    resume: args.resume === true,
    signal: stop.signal,
    session: {
      grants: grantsOfFlags(args.grants),
      ...(memoryLimit
        ? { memoryLimit: parseMemoryLimit(memoryLimit) / 2 ** 20 }
        : {}),
    },
    ...(args.quiet ? {} : {
      onProgress: (progress) => status.line(progressLine(progress)),
      onWork: ({ path, done, text }) =>
        status.tell(
          paths.indexOf(path),
          `${basename(path)} ${done + 1}: ${text}`,
        ),
    }),
    onDone: (outcome) => {
      status.tell(paths.indexOf(outcome.path), "");
      status.end();
      tellOutcome(outcome, args.quiet);
    },
  });
  Deno.removeSignalListener("SIGINT", onInterrupt);
  if (args.page) await writePages(outcomes);
  const summary = runSummary(outcomes);
  if (args.json !== undefined) {
    const text = JSON.stringify(summary, null, 2) + "\n";
    if (args.json === "-") console.log(text.trimEnd());
    else await writeWhole(args.json, text);
  }
  if (stop.signal.aborted) return 130;
  if (summary.notebooks.some(({ status }) => status === "error")) return 2;
  return summary.ok ? 0 : 1;
}

/** The task. */
export const task: Task = {
  name: "run",
  help,
  run: (given) => run(readArguments(given)),
};

if (import.meta.main) await runTask(task);
