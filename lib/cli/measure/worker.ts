/**
 * Measures files in a worker: receives `{ file, task }`, answers with a
 * {@linkcode ShownOutcome}.
 *
 * @module
 */
import type { MeasureTask } from "./arguments.ts";
import { measureFile } from "./measure_file.ts";

const scope = self as unknown as {
  onmessage: (event: MessageEvent<{ file: string; task: MeasureTask }>) => void;
  postMessage(message: unknown): void;
};

scope.onmessage = async ({ data: { file, task } }) => {
  scope.postMessage(await measureFile(file, task));
};
