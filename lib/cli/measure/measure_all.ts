import type { FileOutcome } from "../../batch/mod.ts";
import { LineFile } from "../../files/mod.ts";
import type { MeasureSettings, MeasureTask } from "./arguments.ts";
import { createStatusLine, type StatusLine } from "../status_line.ts";
import { followWork } from "../work_line.ts";
import { type Done, readDone, settingsOf, sourceOf } from "./done.ts";
import type { ShownOutcome } from "./measure_file.ts";
import type { FromWorker, ToWorker } from "./worker.ts";

/** How a run over many files ended. */
export interface MeasureSummary {
  readonly measured: number;
  readonly failed: number;
  /** Already in the output file from an earlier run with the same settings. */
  readonly skipped: number;
  /** In the output file with other settings: measured anew. */
  readonly renewed: number;
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
  const { files, task, json, output, jobs, shard } = settings;
  const way = await settingsOf(task);
  const done = output === null
    ? { files: new Set<string>(), outdated: new Map<string, string[]>() }
    : await readDone(output, files, way);
  tellOutdated(done, output);
  const todo = files.filter((file) => !done.files.has(file));
  // A part of a campaign may lose its machine: each line is on the disk
  const lines = output === null
    ? null
    : await LineFile.open(output, { sync: shard !== null });
  const status = createStatusLine();
  let measured = 0;
  let failed = 0;
  const take = async ({ outcome, text }: ShownOutcome) => {
    if (outcome.status === "measured") measured++;
    else failed++;
    const line = JSON.stringify({
      ...outcome,
      settings: way,
      source: await sourceOf(outcome.file),
    });
    await lines?.add(line);
    status.end();
    if (json) print(line);
    else if (output === null) print(text + "\n");
    if (todo.length > 1) {
      const ended = measured + failed;
      status.tell(0, `${ended} of ${todo.length} files, ${failed} failed`);
    }
  };
  try {
    if (jobs === 1 || todo.length < 2) {
      // Workers load the library on their own: this thread does without it then
      const { measureFile } = await import("./measure_file.ts");
      for (const file of todo) {
        const end = status.isSeen
          ? followWork(file, (work) => status.tell(1, work))
          : () => {};
        const shown = await measureFile(file, task).finally(end);
        status.tell(1, "");
        await take(shown);
      }
    } else {
      await measureParallel(todo, task, Math.min(jobs, todo.length), {
        take,
        status,
      });
    }
  } finally {
    lines?.close();
    if (todo.length > 1) status.leave();
    else status.end();
  }
  return {
    measured,
    failed,
    skipped: files.length - todo.length,
    renewed: done.outdated.size,
  };
}

/** Feeds the files to workers; each takes the next one as it gets free. */
async function measureParallel(
  files: readonly string[],
  task: MeasureTask,
  jobs: number,
  { take, status }: {
    take: (shown: ShownOutcome) => Promise<void>;
    status: StatusLine;
  },
): Promise<void> {
  const queue = [...files];
  await Promise.all(Array.from({ length: jobs }, async (_, lane) => {
    const tell = (work: string) => status.tell(lane + 1, work);
    let worker = startWorker();
    try {
      for (let file = queue.shift(); file; file = queue.shift()) {
        try {
          const shown = await ask(
            worker,
            { file, task, isFollowed: status.isSeen },
            tell,
          );
          tell("");
          await take(shown);
        } catch (error) {
          // A worker that crashed (out of memory, say) takes one file with it.
          worker.terminate();
          worker = startWorker();
          tell("");
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

function ask(
  worker: Worker,
  message: ToWorker,
  tell: (work: string) => void,
): Promise<ShownOutcome> {
  return new Promise((resolve, reject) => {
    worker.onmessage = ({ data }: MessageEvent<FromWorker>) => {
      if (data.shown === null) tell(data.work);
      else resolve(data.shown);
    };
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

/** Says which results of an earlier run do not stand, and why. */
function tellOutdated({ outdated }: Done, output: string | null): void {
  if (outdated.size === 0) return;
  const names = [...new Set([...outdated.values()].flat())];
  console.error(
    `${outdated.size} captures in '${output}' were measured with other settings (${
      names.join(", ")
    }): they are measured anew, and the last line of a capture counts`,
  );
}
