import { join } from "@std/path";
import { removeLeftovers } from "../files/mod.ts";
import {
  completeLimits,
  type HandInLimits,
  type HandInRun,
  removeOldCopies,
  runHandIn,
} from "./hand_in/mod.ts";
import type { PointsByHand } from "./by_hand.ts";
import type { HandoutKey, StudentKey } from "./handout_key.ts";
import { nearestName } from "../options/mod.ts";
import { gradeClass, type HandInMark, type StudentRun } from "./grade_class.ts";
import { RunStore } from "./run_store.ts";

/** The marks of a class. */
export interface ClassMarks {
  /** A mark for each student of the key, in its order. */
  readonly marks: readonly HandInMark[];
  /** Folders that the key does not know, with the nearest that it does. */
  readonly unknown: readonly {
    readonly folder: string;
    readonly nearest: string | null;
  }[];
  /** Students of whom there is no folder. */
  readonly missing: readonly string[];
}

/** Options of {@linkcode markFolder}. */
export interface MarkFolderOptions {
  /** The teacher's key. */
  key: HandoutKey;
  /**
   * Files and folders that hand-ins may neither read nor write: at least the
   * teacher's.
   */
  withheld: readonly string[];
  /**
   * What one hand-in may use, where it differs from {@linkcode defaultLimits}.
   *
   * @default {{}}
   */
  limits?: Partial<HandInLimits>;
  /**
   * Folder that keeps what was run: a hand-in that did not change since is
   * graded again, not run again. `null` to keep nothing.
   *
   * @default {null}
   */
  storeFolder?: string | null;
  /**
   * Points that the teacher gave by hand.
   *
   * @default {none}
   */
  byHand?: PointsByHand;
  /**
   * Hand-ins run at the same time.
   *
   * @default {2}
   */
  jobs?: number;
  /**
   * Told after each hand-in; the next waits for it.
   *
   * @default {() => {}}
   */
  onProgress?: (
    mark: HandInMark,
    soFar: ClassMarks,
    total: number,
  ) => void | Promise<void>;
}

/**
 * Marks a folder of hand-ins: each notebook runs from top to bottom on a copy, in
 * a process of its own with few permissions and with limits, and its recorded
 * answers are compared with the key. Whatever a hand-in does, it gets an entry
 * and harms nothing.
 *
 * @param folder Folder with one folder per student.
 * @param options Key, withheld folders, limits.
 * @returns A mark for each student of the key, and what else there is.
 * @throws {RangeError} If a limit is no positive number.
 */
export async function markFolder(
  folder: string,
  options: MarkFolderOptions,
): Promise<ClassMarks> {
  const { key, jobs = 2, storeFolder = null, onProgress = () => {} } = options;
  const limits = completeLimits(options.limits ?? {});
  await removeOldCopies();
  if (storeFolder !== null) await removeLeftovers(storeFolder);
  const store = storeFolder === null ? null : await RunStore.open(storeFolder);
  const withheld = [
    ...options.withheld,
    folder,
    ...(storeFolder === null ? [] : [storeFolder]),
  ];
  const folders = await foldersOf(folder, key);
  const runs: StudentRun[] = [];
  const soFar = (): ClassMarks => ({
    marks: gradeClass(runs.filter(Boolean), key, options.byHand),
    ...folders,
  });
  const queue = [...key.students.entries()];
  let told = Promise.resolve();
  const work = async () => {
    for (let next = queue.shift(); next; next = queue.shift()) {
      const [index, student] = next;
      const run = await runOrTake(join(folder, student.folder), student, {
        notebook: key.notebook,
        limits,
        withheld,
        store,
      });
      runs[index] = { student, run };
      // One after the other: a table is being written
      await (told = told.then(() => {
        const now = soFar();
        const mark = now.marks.find((each) => each.folder === student.folder)!;
        return onProgress(mark, now, key.students.length);
      }));
    }
  };
  try {
    await Promise.all(Array.from({ length: Math.max(1, jobs) }, work));
  } finally {
    store?.close();
  }
  return soFar();
}

/** Folders that the key does not know, and students without one. */
async function foldersOf(
  folder: string,
  key: HandoutKey,
): Promise<Omit<ClassMarks, "marks">> {
  const names: string[] = [];
  for await (const { name, isDirectory } of Deno.readDir(folder)) {
    if (isDirectory && !name.startsWith(".")) names.push(name);
  }
  const known = key.students.map(({ folder }) => folder);
  return {
    unknown: names.filter((name) => !known.includes(name)).sort()
      .map((name) => ({ folder: name, nearest: nearestName(name, known) })),
    missing: key.students.filter(({ folder }) => !names.includes(folder))
      .map(({ student }) => student),
  };
}

/** Runs a hand-in, or takes the run of the same files from the store. */
async function runOrTake(
  folder: string,
  student: StudentKey,
  { notebook, limits, withheld, store }: {
    notebook: string;
    limits: HandInLimits;
    withheld: readonly string[];
    store: RunStore | null;
  },
): Promise<HandInRun> {
  const stored = store?.find(student.folder) ?? null;
  // What did not run to the end may do so with other limits
  const good = stored !== null &&
    (stored.run.complete ||
      JSON.stringify(stored.limits) === JSON.stringify(limits));
  const earlier = good ? stored.run : null;
  const run = await runHandIn(folder, { notebook, limits, withheld, earlier });
  // What could not be read, or is missing, is looked at anew each time
  if (run !== earlier && run.fingerprint !== "") {
    await store?.add({ folder: student.folder, limits, run });
  }
  return run;
}
