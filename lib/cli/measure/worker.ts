/**
 * Measures files in a worker: receives a file, tells of its work while it goes
 * on where somebody sees it, and answers with a {@linkcode ShownOutcome}.
 *
 * @module
 */
import { basename } from "@std/path";
import { followWork } from "../work_line.ts";
import type { MeasureTask } from "./arguments.ts";
import { measureFile, type ShownOutcome } from "./measure_file.ts";

const scope = self as unknown as {
  onmessage: (event: MessageEvent<ToWorker>) => void;
  postMessage(message: FromWorker): void;
};

/** What a worker is asked. */
export interface ToWorker {
  readonly file: string;
  readonly task: MeasureTask;
  /** Whether it tells of its work. */
  readonly isFollowed: boolean;
}

/** What a worker says: what it does, in words, or what came of its file. */
export type FromWorker =
  | { readonly work: string; readonly shown: null }
  | { readonly work: null; readonly shown: ShownOutcome };

scope.onmessage = async ({ data: { file, task, isFollowed } }) => {
  const end = isFollowed
    ? followWork(
      basename(file),
      (work) => scope.postMessage({ work, shown: null }),
    )
    : () => {};
  const shown = await measureFile(file, task).finally(end);
  scope.postMessage({ work: null, shown });
};
