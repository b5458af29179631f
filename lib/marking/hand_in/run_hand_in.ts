import { fromFileUrl, join } from "@std/path";
import { projectFolder, sessionEnvironment } from "../../kernel/session/mod.ts";
import type { GivenAnswer } from "../mark_answer.ts";
import { copyHandIn, HandInError } from "./copy_hand_in.ts";
import { type HandInLimits, limitedCommand } from "./limits.ts";
import type { RunnerResult, RunnerSettings } from "./runner_types.ts";
import { FamilyUsage } from "./usage.ts";
import { HandInWatch } from "./watch_hand_in.ts";

/** Longest word of a runner that is read, in bytes. */
const longestResult = 1e6;
/** Largest heap of a runner, in MB. */
const runnerHeap = 1024;

/** What came of running a hand-in; plain data. */
export interface HandInRun {
  /** How it ran, in one line. */
  readonly run: string;
  /** Whether every cell ran well. */
  readonly complete: boolean;
  /** Answers by the name of the question. */
  readonly answers: Readonly<Record<string, GivenAnswer>>;
  /** Hashes of its code cells. */
  readonly cells: readonly string[];
  /** SHA-256 of each file in `data/`, by its name. */
  readonly captures: Readonly<Record<string, string>>;
  /** SHA-256 of all that was handed in; empty where nothing could be read. */
  readonly fingerprint: string;
  /** Processor time, in s. */
  readonly cpuTime: number;
  /** Time by the clock, in s. */
  readonly duration: number;
}

/** Options of {@linkcode runHandIn}. */
export interface RunHandInOptions {
  /** File name of the notebook. */
  readonly notebook: string;
  readonly limits: HandInLimits;
  /** Files and folders that it may neither read nor write. */
  readonly withheld: readonly string[];
  /**
   * An earlier run with this fingerprint is good enough: then it is not run.
   */
  readonly earlier: HandInRun | null;
}

/**
 * Runs a hand-in on a copy, in a process of its own with limits that the system
 * keeps. Whatever it does or is, this resolves.
 *
 * @param folder Folder of the hand-in.
 * @param options Notebook, limits, what is kept from it.
 * @returns What came of it, or the earlier run itself.
 */
export async function runHandIn(
  folder: string,
  options: RunHandInOptions,
): Promise<HandInRun> {
  const { notebook, limits, earlier } = options;
  const begin = performance.now();
  const work = await Deno.makeTempDir({
    prefix: `fringebook-hand-in-${Deno.pid}-`,
  });
  let result: RunnerResult = failed("");
  let fingerprint = "";
  let captures: Record<string, string> = {};
  let cpuTime = 0;
  try {
    const copy = join(work, "hand-in");
    await Deno.mkdir(copy);
    await Deno.mkdir(join(work, "temporary"));
    const copied = await copyHandIn(folder, copy, notebook, limits);
    if (earlier !== null && earlier.fingerprint === copied.fingerprint) {
      return earlier;
    }
    fingerprint = copied.fingerprint;
    captures = capturesAmong(copied.files);
    ({ result, cpuTime } = await runCopy(work, options));
  } catch (error) {
    result = failed(wordsOf(error, notebook));
  } finally {
    await Deno.remove(work, { recursive: true }).catch(() => {});
  }
  const duration = (performance.now() - begin) / 1000;
  return { ...result, captures, fingerprint, cpuTime, duration };
}

/**
 * Removes the copies that markings which were killed have left in the system's
 * folder for temporary files (Linux).
 */
export async function removeOldCopies(): Promise<void> {
  if (Deno.build.os !== "linux") return;
  const parent = Deno.env.get("TMPDIR") || "/tmp";
  for await (const { name } of Deno.readDir(parent)) {
    const pid = /^fringebook-hand-in-(\d+)-/.exec(name)?.[1];
    if (pid === undefined) continue;
    const alive = await Deno.lstat(`/proc/${pid}`).then(
      () => true,
      () => false,
    );
    if (alive) continue;
    await Deno.remove(join(parent, name), { recursive: true }).catch(() => {});
  }
}

function capturesAmong(
  files: Readonly<Record<string, string>>,
): Record<string, string> {
  return Object.fromEntries(
    Object.entries(files).filter(([path]) => /^data\/[^/]+$/.test(path))
      .map(([path, hash]) => [path.slice("data/".length), hash]),
  );
}

function wordsOf(error: unknown, notebook: string): string {
  if (error instanceof HandInError) return `could not be run: ${error.message}`;
  if (error instanceof Deno.errors.NotFound) {
    return `no hand-in: there is no folder with '${notebook}'`;
  }
  const why = error instanceof Error ? error.message : String(error);
  return `could not be run: ${why.slice(0, 300)}`;
}

function failed(run: string): RunnerResult {
  return { run, complete: false, answers: {}, cells: [] };
}

async function runCopy(
  work: string,
  { notebook, limits, withheld }: RunHandInOptions,
): Promise<{ result: RunnerResult; cpuTime: number }> {
  const copy = join(work, "hand-in");
  const settings: RunnerSettings = {
    path: join(copy, notebook),
    executedPath: join(work, "executed.ipynb"),
    withheld: [...withheld, join(projectFolder, "out")],
    limits,
  };
  const [program, ...args] = limitedCommand(runnerCommand(settings), limits);
  const child = new Deno.Command(program!, {
    args,
    cwd: copy,
    clearEnv: true,
    env: { ...sessionEnvironment(), TMPDIR: join(work, "temporary") },
    stdin: "piped",
    stdout: "piped",
    stderr: "piped",
  }).spawn();
  const family = new FamilyUsage(child.pid);
  const watch = new HandInWatch(family, copy, limits);
  const timer = setInterval(() => watch.look(), 200);
  try {
    const [status, text, lastWords] = await Promise.all([
      child.status,
      firstOf(child.stdout, longestResult, () => family.kill(true)),
      lastOf(child.stderr),
    ]);
    const how = status.signal ?? `code ${status.code}`;
    const result = resultOf(text) ??
      failed(
        `could not be run: its process ended with ${how}${
          lastLine(lastWords) === "" ? "" : ` (${lastLine(lastWords)})`
        }`,
      );
    return {
      result: watch.stopped === null
        ? result
        : { ...result, run: watch.stopped, complete: false },
      cpuTime: family.descendants().cpuTime,
    };
  } finally {
    clearInterval(timer);
    family.kill(true);
    await child.stdin.close().catch(() => {});
  }
}

function runnerCommand(settings: RunnerSettings): string[] {
  return [
    Deno.execPath(),
    "run",
    "--quiet",
    "--no-prompt",
    "--allow-all",
    "--cached-only",
    `--config=${join(projectFolder, "deno.json")}`,
    `--v8-flags=--max-old-space-size=${runnerHeap}`,
    fromFileUrl(new URL("./runner.ts", import.meta.url)),
    JSON.stringify(settings),
  ];
}

/** Reads a stream up to a length; what comes then ends its writer. */
async function firstOf(
  stream: ReadableStream<Uint8Array>,
  length: number,
  onMore: () => void,
): Promise<string> {
  const decoder = new TextDecoder();
  let text = "";
  let size = 0;
  for await (const chunk of stream) {
    size += chunk.length;
    if (size > length) onMore();
    else text += decoder.decode(chunk, { stream: true });
  }
  return text;
}

async function lastOf(stream: ReadableStream<Uint8Array>): Promise<string> {
  const decoder = new TextDecoder();
  let text = "";
  for await (const chunk of stream) {
    text = (text + decoder.decode(chunk, { stream: true })).slice(-4096);
  }
  return text;
}

function lastLine(text: string): string {
  return (/heap out of memory|out of memory/i.exec(text)?.[0] ??
    text.trim().split("\n").at(-1) ?? "").slice(0, 200);
}

/** A runner's word, if it is whole and of the right form. */
function resultOf(text: string): RunnerResult | null {
  let value: Partial<RunnerResult>;
  try {
    value = JSON.parse(text);
  } catch {
    return null;
  }
  const { run, complete, answers, cells } = value ?? {};
  if (typeof run !== "string" || typeof complete !== "boolean") return null;
  if (typeof answers !== "object" || !Array.isArray(cells)) return null;
  return {
    // What breaks a line, or hides what stands beside it, is left out
    // deno-lint-ignore no-control-regex
    run: run.replace(/[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]+/g, " "),
    complete,
    answers: Object.fromEntries(
      Object.entries(answers).map((
        [name, { value, choice, ...rest }],
      ) => [name, {
        // JSON has no NaN
        value: value ?? NaN,
        unit: rest.unit,
        standardUncertainty: rest.standardUncertainty ?? NaN,
        ...(choice === undefined ? {} : { choice }),
      }]),
    ),
    cells,
  };
}
