import { join } from "@std/path";
import { removeLeftovers } from "../files/mod.ts";
import {
  completeLimits,
  type HandInLimits,
  type HandInRun,
  removeOldCopies,
  runHandIn,
} from "./hand_in/mod.ts";
import type { HandoutKey, StudentKey } from "./handout_key.ts";
import { type AnswerMark, markAnswer, pointsPerAnswer } from "./mark_answer.ts";
import { RunStore } from "./run_store.ts";

/** Points of one hand-in. */
export interface HandInMark {
  readonly student: string;
  readonly folder: string;
  /** How the notebook ran, in one line. */
  readonly run: string;
  /** Whether it ran to the end. */
  readonly complete: boolean;
  /** Points and reasons of each question, by its name. */
  readonly answers: Readonly<Record<string, AnswerMark>>;
  readonly points: number;
  readonly maximum: number;
  /** Processor time, in s. */
  readonly cpuTime: number;
  /** Time by the clock, in s. */
  readonly duration: number;
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
    done: number,
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
 * @returns A mark for each student of the key, in its order.
 * @throws {RangeError} If a limit is no positive number.
 */
export async function markFolder(
  folder: string,
  options: MarkFolderOptions,
): Promise<HandInMark[]> {
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
  const marks: HandInMark[] = [];
  const queue = [...key.students.entries()];
  let done = 0;
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
      const mark = gradeRun(run, student, key);
      marks[index] = mark;
      // One after the other: a table is being written
      await (told = told.then(() =>
        onProgress(mark, ++done, key.students.length)
      ));
    }
  };
  try {
    await Promise.all(Array.from({ length: Math.max(1, jobs) }, work));
  } finally {
    store?.close();
  }
  return marks;
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
  if (run !== earlier) {
    await store?.add({ folder: student.folder, limits, run });
  }
  return run;
}

/** Points of a run. */
function gradeRun(
  run: HandInRun,
  student: StudentKey,
  key: HandoutKey,
): HandInMark {
  const answers = Object.fromEntries(
    key.questions.map(({ name, unit, relativeStandardUncertainty }) => {
      const truth = student.truth[name]!;
      const given = Object.hasOwn(run.answers, name)
        ? run.answers[name]!
        : null;
      return [
        name,
        markAnswer(given, {
          truth,
          unit,
          referenceStandardUncertainty: relativeStandardUncertainty *
            Math.abs(truth),
        }),
      ];
    }),
  );
  return {
    student: student.student,
    folder: student.folder,
    run: run.run,
    complete: run.complete,
    answers,
    points: Object.values(answers).reduce((sum, { points }) => sum + points, 0),
    maximum: pointsPerAnswer * key.questions.length,
    cpuTime: run.cpuTime,
    duration: run.duration,
  };
}
