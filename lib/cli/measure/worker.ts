/**
 * Measures files in a worker: receives `{ file, task }`, tells of its work while
 * it goes on, and answers with a {@linkcode ShownOutcome}.
 *
 * @module
 */
import { basename } from "@std/path";
import { followWork } from "../work_line.ts";
import type { MeasureTask } from "./arguments.ts";
import { measureFile, type ShownOutcome } from "./measure_file.ts";

const scope = self as unknown as {
  onmessage: (event: MessageEvent<{ file: string; task: MeasureTask }>) => void;
  postMessage(message: FromWorker): void;
};

/** What a worker says: what it does, in words, or what came of its file. */
export type FromWorker =
  | { readonly work: string; readonly shown: null }
  | { readonly work: null; readonly shown: ShownOutcome };

scope.onmessage = async ({ data: { file, task } }) => {
  const end = followWork(
    basename(file),
    (work) => scope.postMessage({ work, shown: null }),
  );
  const shown = await measureFile(file, task).finally(end);
  scope.postMessage({ work: null, shown });
};
