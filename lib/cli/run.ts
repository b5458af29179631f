/**
 * `deno task run`: runs notebooks without a browser.
 *
 * @module
 */
import { parseArgs } from "node:util";
import { join } from "@std/path";
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

const HELP = `Runs notebooks from top to bottom, each in a fresh session.

  deno task run NOTEBOOK… [options]

NOTEBOOK is an .ipynb file or a folder, whose notebooks are run in the order of
their names. The executed notebook is saved also when a cell fails.

Options:
  --output FOLDER      save the executed notebooks there (default: in place)
  --page               also write a self-contained HTML page beside each
  --parameter NAME=VALUE
                       set a parameter declared in the cell tagged
                       'parameters'; may be repeated; VALUE is JSON or text
  --timeout SECONDS    longest time of one cell (default: no limit)
  --allow-errors       go on after a cell that throws, and count it as good
  --parallel N         run N notebooks at the same time (default: 1)
  --resume             keep notebooks that ran well before on this machine, if
                       neither they nor the files beside them changed
  --shard I/N          run only the I-th of N parts of the list, for array jobs
  --json FILE          write a summary for machines; '-' is standard output
  --memory-limit MIB   limit of a session's memory
  --allow-net=HOST …   permission for the notebooks, as Deno's flags:
                       read, write, net, env, run, ffi, sys, import
  --quiet              print only failures
  --help               this text

Exit codes:
  0  every notebook ran well
  1  a cell failed, took too long, or lost its session; or a notebook was stopped
  2  the command was wrong, a file is no notebook, or the result cannot be saved
  130  stopped by the person (Ctrl+C); what did not run is 'not run'`;

function readArguments(args: readonly string[]) {
  const { values, positionals } = parseArgs({
    args: args.filter((arg) => !isGrant(arg)),
    allowPositionals: true,
    options: {
      output: { type: "string" },
      page: { type: "boolean", default: false },
      parameter: { type: "string", multiple: true, default: [] },
      timeout: { type: "string" },
      "allow-errors": { type: "boolean", default: false },
      parallel: { type: "string", default: "1" },
      resume: { type: "boolean", default: false },
      shard: { type: "string" },
      json: { type: "string" },
      "memory-limit": { type: "string" },
      quiet: { type: "boolean", default: false },
      help: { type: "boolean", default: false },
    },
  });
  return { ...values, grants: args.filter(isGrant), paths: positionals };
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

function chosenShard(paths: string[], shard: string | undefined): string[] {
  if (shard === undefined) return paths;
  const found = /^(\d+)\/(\d+)$/.exec(shard);
  if (!found) {
    throw new RangeError(
      `Cannot run notebooks as '--shard' must be such as 2/5: current value is ${shard}`,
    );
  }
  return shardOf(paths, { index: Number(found[1]), count: Number(found[2]) });
}

async function writePages(outcomes: readonly NotebookOutcome[]): Promise<void> {
  for (const { run, outputPath, path } of outcomes) {
    if (run === null) continue;
    const page = await renderPage(run.notebook, { path });
    await writeWhole(outputPath.replace(/\.ipynb$/, "") + ".html", page);
  }
}

function tellProgress({ path, done, total, cell }: RunProgress): void {
  if (cell === null) console.error(`${path}: ${total} cells`);
  else {
    const { index, status, duration } = cell;
    console.error(
      `${path}: ${done}/${total}  cell ${index + 1}  ${status}  ${
        duration.toFixed(1)
      } s`,
    );
  }
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

async function main(args: Arguments): Promise<number> {
  if (args.help) {
    console.log(HELP);
    return 0;
  }
  const paths = chosenShard(await notebooksOf(args.paths), args.shard);
  if (!args.quiet) console.error(`${describeLevel(systemMeans())}.`);
  const stop = new AbortController();
  const onInterrupt = () => stop.abort();
  Deno.addSignalListener("SIGINT", onInterrupt);
  const memoryLimit = args["memory-limit"];
  const outcomes = await runMany(paths, {
    outputFolder: args.output ?? null,
    parallel: numberOf("parallel", args.parallel),
    timeout: args.timeout ? numberOf("timeout", args.timeout) : Infinity,
    parameters: Object.fromEntries(args.parameter.map(parseParameter)),
    allowErrors: args["allow-errors"],
    resume: args.resume,
    signal: stop.signal,
    session: {
      grants: grantsOfFlags(args.grants),
      ...(memoryLimit
        ? { memoryLimit: parseMemoryLimit(memoryLimit) / 2 ** 20 }
        : {}),
    },
    ...(args.quiet ? {} : { onProgress: tellProgress }),
    onDone: (outcome) => tellOutcome(outcome, args.quiet),
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

if (import.meta.main) {
  try {
    Deno.exitCode = await main(readArguments(Deno.args));
  } catch (error) {
    console.error(error instanceof Error ? error.message : String(error));
    Deno.exitCode = 2;
  }
}
