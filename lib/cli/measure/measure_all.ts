import type { FileOutcome } from "../../batch/mod.ts";
import type { MeasureSettings, MeasureTask } from "./arguments.ts";
import { showWork } from "../work_line.ts";
import type { ShownOutcome } from "./measure_file.ts";

/** How a run over many files ended. */
export interface MeasureSummary {
  readonly measured: number;
  readonly failed: number;
  /** Already in the output file from an earlier run. */
  readonly skipped: number;
}

/**
 * Measures all files, several at a time where asked for, in the order in which
 * they end. A failing file never stops the rest.
 *
 * @param settings What the shell asked for.
 * @param print Where the lines for a person or a program go.
 * @returns How many were measured, failed, skipped.
 */
export async function measureAll(
  settings: MeasureSettings,
  print: (line: string) => void = console.log,
): Promise<MeasureSummary> {
  const { files, task, json, output, jobs } = settings;
  const done = output === null ? new Set<string>() : await readDone(output);
  const todo = files.filter((file) => !done.has(file));
  let measured = 0;
  let failed = 0;
  const take = async ({ outcome, text }: ShownOutcome) => {
    if (outcome.status === "measured") measured++;
    else failed++;
    const line = JSON.stringify(outcome);
    if (output !== null) await appendLine(output, line);
    if (json) print(line);
    else if (output === null) print(text + "\n");
    showProgress(measured + failed, todo.length, failed);
  };
  if (jobs === 1 || todo.length < 2) {
    // Workers load the library on their own: this thread does without it then.
    const { measureFile } = await import("./measure_file.ts");
    for (const file of todo) {
      const end = showWork(file);
      const shown = await measureFile(file, task).finally(end);
      await take(shown);
    }
  } else {
    await measureParallel(todo, task, Math.min(jobs, todo.length), take);
  }
  return { measured, failed, skipped: files.length - todo.length };
}

/** Feeds the files to workers; each takes the next one as it gets free. */
async function measureParallel(
  files: readonly string[],
  task: MeasureTask,
  jobs: number,
  take: (shown: ShownOutcome) => Promise<void>,
): Promise<void> {
  const queue = [...files];
  await Promise.all(Array.from({ length: jobs }, async () => {
    let worker = startWorker();
    try {
      for (let file = queue.shift(); file; file = queue.shift()) {
        try {
          await take(await ask(worker, { file, task }));
        } catch (error) {
          // A worker that crashed (out of memory, say) takes one file with it.
          worker.terminate();
          worker = startWorker();
          await take({
            outcome: crashed(file, error),
            text: `== ${file}\n\nThe worker stopped: ${error}`,
          });
        }
      }
    } finally {
      worker.terminate();
    }
  }));
}

function startWorker(): Worker {
  return new Worker(new URL("./worker.ts", import.meta.url), {
    type: "module",
  });
}

function ask(worker: Worker, message: unknown): Promise<ShownOutcome> {
  return new Promise((resolve, reject) => {
    worker.onmessage = ({ data }) => resolve(data);
    worker.onerror = (event) => {
      event.preventDefault();
      reject(new Error(event.message));
    };
    worker.postMessage(message);
  });
}

function crashed(file: string, error: unknown): FileOutcome {
  return {
    file,
    status: "failed",
    measurement: null,
    reason: null,
    reports: [],
    error: {
      name: "WorkerError",
      message: error instanceof Error ? error.message : String(error),
    },
  };
}

/** Files that an earlier run measured; a torn last line is not done. */
async function readDone(output: string): Promise<Set<string>> {
  let text: string;
  try {
    text = await Deno.readTextFile(output);
  } catch (error) {
    if (error instanceof Deno.errors.NotFound) return new Set();
    throw error;
  }
  const done = new Set<string>();
  for (const line of text.split("\n")) {
    try {
      const { file, status } = JSON.parse(line) as FileOutcome;
      if (status === "measured") done.add(file);
    } catch {
      continue;
    }
  }
  if (text !== "" && !text.endsWith("\n")) await appendLine(output, "");
  return done;
}

/** One write per line, so that a crash leaves at most one torn line. */
async function appendLine(output: string, line: string): Promise<void> {
  await Deno.writeTextFile(output, line + "\n", { append: true });
}

function showProgress(done: number, count: number, failed: number): void {
  if (!Deno.stderr.isTerminal() || count < 2) return;
  const text = `\r${done} of ${count} files, ${failed} failed`;
  Deno.stderr.writeSync(
    new TextEncoder().encode(done < count ? text : text + "\n"),
  );
}
