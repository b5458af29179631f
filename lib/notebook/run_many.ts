import { basename, join } from "@std/path";
import { createDrawingDesk } from "../kernel/session/mod.ts";
import { runNotebook } from "./run_notebook.ts";
import type { NotebookRun, RunOptions } from "./run_types.ts";

/** Options of {@linkcode runMany}. */
export interface RunManyOptions extends Omit<RunOptions, "outputPath"> {
  /**
   * Folder of the executed notebooks; `null` saves them where they were read.
   *
   * @default {null}
   */
  outputFolder?: string | null;
  /**
   * How many notebooks run at the same time.
   *
   * @default {1}
   */
  parallel?: number;
  /**
   * Told when a notebook has ended.
   *
   * @default {() => {}}
   */
  onDone?: (outcome: NotebookOutcome) => void;
}

/** What became of one notebook of many. */
export type NotebookOutcome =
  | { path: string; outputPath: string; run: NotebookRun; error: null }
  | { path: string; outputPath: string; run: null; error: Error };

/**
 * Runs several notebooks, each in a session of its own.
 *
 * @param paths The notebooks.
 * @param options Where to save, how many at a time, and those of `runNotebook`.
 * @returns One outcome per notebook, in the order of `paths`; a notebook that
 * cannot be read does not stop the others.
 */
export async function runMany(
  paths: readonly string[],
  options: RunManyOptions = {},
): Promise<NotebookOutcome[]> {
  const {
    outputFolder = null,
    parallel = 1,
    onDone = () => {},
    ...runOptions
  } = options;
  if (!Number.isInteger(parallel) || parallel < 1) {
    throw new RangeError(
      `Cannot run notebooks as 'parallel' must be a whole number of at least 1: current value is ${parallel}`,
    );
  }
  const outputs = outputPaths(paths, outputFolder);
  // What draws is loaded once, and not by each session.
  const own = paths.length > 1 && runOptions.session?.drawing === undefined
    ? createDrawingDesk()
    : null;
  const session = {
    ...runOptions.session,
    ...(own === null ? {} : { drawing: own }),
  };
  const outcomes = new Array<NotebookOutcome>(paths.length);
  let next = 0;
  const worker = async () => {
    while (next < paths.length) {
      const index = next++;
      const place = { path: paths[index]!, outputPath: outputs[index]! };
      const outcome = await runOne(place, { ...runOptions, session });
      outcomes[index] = outcome;
      onDone(outcome);
    }
  };
  await Promise.all(
    Array.from({ length: Math.min(parallel, paths.length) }, worker),
  ).finally(() => own?.close());
  return outcomes;
}

/**
 * One part of a list, for the array jobs of a batch scheduler: every n-th,
 * so that the parts are alike and together are the whole.
 *
 * @param items The whole list, the same for every part.
 * @param shard Number of the part, from 1, and number of parts.
 * @returns The items of the part.
 *
 * @example
 * ```ts
 * import { shardOf } from "fringebook/notebook";
 * import { expect } from "vitest";
 *
 * expect(shardOf(["a", "b", "c"], { index: 1, count: 2 })).toEqual(["a", "c"]);
 * expect(shardOf(["a", "b", "c"], { index: 2, count: 2 })).toEqual(["b"]);
 * ```
 */
export function shardOf<T>(
  items: readonly T[],
  { index, count }: { index: number; count: number },
): T[] {
  if (
    !Number.isInteger(index) || !Number.isInteger(count) || index < 1 ||
    index > count
  ) {
    throw new RangeError(
      `Cannot take the part ${index}/${count}: the first number must be from 1 to the second`,
    );
  }
  return items.filter((_, at) => at % count === index - 1);
}

async function runOne(
  { path, outputPath }: { path: string; outputPath: string },
  options: RunOptions,
): Promise<NotebookOutcome> {
  try {
    const run = await runNotebook(path, { ...options, outputPath });
    return { path, outputPath, run, error: null };
  } catch (cause) {
    const error = cause instanceof Error ? cause : new Error(String(cause));
    return { path, outputPath, run: null, error };
  }
}

function outputPaths(
  paths: readonly string[],
  folder: string | null,
): string[] {
  if (folder === null) return [...paths];
  const outputs = paths.map((path) => join(folder, basename(path)));
  const twice = outputs.find((path, index) => outputs.indexOf(path) !== index);
  if (twice !== undefined) {
    throw new RangeError(
      `Cannot run notebooks of the same name into one folder: '${
        basename(twice)
      }' stands twice`,
    );
  }
  return outputs;
}
