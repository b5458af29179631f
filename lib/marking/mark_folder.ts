import { dirname, join } from "@std/path";
import { reportMimeType } from "../display/mod.ts";
import {
  createCell,
  type Notebook,
  type NotebookRun,
  readNotebook,
  runNotebook,
  writeNotebook,
} from "../notebook/mod.ts";
import { folderSize, watchFolder } from "./watch_folder.ts";
import type { HandoutKey, StudentKey } from "./make_handout.ts";
import {
  type AnswerMark,
  type GivenAnswer,
  markAnswer,
  pointsPerAnswer,
} from "./mark_answer.ts";

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
  /** Time taken, in s. */
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
   * Longest time of one cell, in s.
   *
   * @default {60}
   */
  cellTimeout?: number;
  /**
   * Longest time of one hand-in, in s.
   *
   * @default {180}
   */
  timeout?: number;
  /**
   * Memory of one hand-in, in MB.
   *
   * @default {1024}
   */
  memoryLimit?: number;
  /**
   * Space on the disk for one hand-in, in MB: its captures and what it writes.
   *
   * @default {512}
   */
  diskLimit?: number;
  /**
   * Hand-ins run at the same time.
   *
   * @default {2}
   */
  jobs?: number;
  /**
   * Told after each hand-in.
   *
   * @default {() => {}}
   */
  onProgress?: (mark: HandInMark, done: number, total: number) => void;
}

/**
 * Marks a folder of hand-ins: each notebook runs from top to bottom on a copy, in
 * a session with few permissions and with limits of time and memory, and its
 * recorded answers are compared with the key. Whatever a hand-in does, it gets an
 * entry and harms nothing.
 *
 * @param folder Folder with one folder per student.
 * @param options Key, withheld folders, limits.
 * @returns A mark for each student of the key, in its order.
 */
export async function markFolder(
  folder: string,
  options: MarkFolderOptions,
): Promise<HandInMark[]> {
  const { key, jobs = 2, onProgress = () => {} } = options;
  const marks: HandInMark[] = [];
  const queue = [...key.students.entries()];
  let done = 0;
  await Promise.all(Array.from({ length: jobs }, async () => {
    for (let next = queue.shift(); next; next = queue.shift()) {
      const [index, student] = next;
      const mark = await markHandIn(folder, student, options);
      marks[index] = mark;
      onProgress(mark, ++done, key.students.length);
    }
  }));
  return marks;
}

async function markHandIn(
  folder: string,
  student: StudentKey,
  options: MarkFolderOptions,
): Promise<HandInMark> {
  const begin = performance.now();
  const { questions, notebook } = options.key;
  const handIn = join(folder, student.folder);
  const copy = await Deno.makeTempDir({ prefix: "hand-in-" });
  let run: NotebookRun | null = null;
  let failure = "";
  try {
    const { diskLimit = 512 } = options;
    if (folderSize(handIn, mostFiles).bytes > diskLimit * 1e6) {
      throw new Error(`the hand-in is larger than ${diskLimit} MB`);
    }
    await copyPlainFiles(handIn, copy);
    await addLastCell(join(copy, notebook));
    run = await runLimited(join(copy, notebook), options);
  } catch (error) {
    failure = error instanceof Deno.errors.NotFound
      ? `no hand-in: there is no '${student.folder}/${notebook}'`
      : `not run: ${error instanceof Error ? error.message : String(error)}`;
  } finally {
    await Deno.remove(copy, { recursive: true }).catch(() => {});
  }
  const given = run === null ? new Map() : recordedAnswers(run.notebook);
  const answers = Object.fromEntries(
    questions.map(({ name, unit, relativeStandardUncertainty }) => {
      const truth = student.truth[name]!;
      return [
        name,
        markAnswer(given.get(name) ?? null, {
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
    run: run?.summary ?? failure,
    complete: run?.cells.every(({ status }) => status === "ok") ?? false,
    answers,
    points: Object.values(answers).reduce((sum, { points }) => sum + points, 0),
    maximum: pointsPerAnswer * questions.length,
    duration: (performance.now() - begin) / 1000,
  };
}

async function runLimited(
  path: string,
  options: MarkFolderOptions,
): Promise<NotebookRun> {
  const {
    withheld,
    cellTimeout = 60,
    timeout = 180,
    memoryLimit = 1024,
    diskLimit = 512,
  } = options;
  const abort = new AbortController();
  const timer = setTimeout(() => abort.abort(), timeout * 1000);
  const watch = watchFolder(
    dirname(path),
    { limit: diskLimit * 1e6, mostFiles },
    () => abort.abort(),
  );
  try {
    const run = await runNotebook(path, {
      timeout: cellTimeout,
      allowErrors: true,
      signal: abort.signal,
      session: { memoryLimit, withheld },
    });
    return watch.over
      ? { ...run, summary: `stopped at ${diskLimit} MB on the disk` }
      : run;
  } finally {
    clearTimeout(timer);
    watch.stop();
  }
}

/**
 * Adds a cell that shows all answers: a cell shows its last value only, and an
 * answer may stand anywhere in it.
 */
async function addLastCell(path: string): Promise<void> {
  const notebook = await readNotebook(path);
  notebook.cells.push(createCell("code", lastCell));
  await writeNotebook(path, notebook);
}

const lastCell =
  `const { answersSoFar, display: show } = await import("fringebook");
for (const answer of answersSoFar()) await show(answer);`;

/** The last answer to each question among the outputs of a notebook. */
export function recordedAnswers(notebook: Notebook): Map<string, GivenAnswer> {
  const answers = new Map<string, GivenAnswer>();
  for (const { outputs = [] } of notebook.cells) {
    for (const output of outputs) {
      const data = output["data"] as Record<string, unknown> | undefined;
      const report = data?.[reportMimeType] as {
        kind?: unknown;
        headlines?: {
          label: string;
          value: unknown;
          standardUncertainty: unknown;
          unit: string;
        }[];
      } | undefined;
      const headline = report?.headlines?.[0];
      if (report?.kind !== "course.answer" || headline === undefined) continue;
      answers.set(String(headline.label), {
        value: Number(headline.value),
        standardUncertainty: Number(headline.standardUncertainty),
        unit: String(headline.unit),
      });
    }
  }
  return answers;
}

/** Most files of a hand-in that are looked at. */
const mostFiles = 10_000;

/** Copies files and folders, but no links: a link could lead anywhere. */
async function copyPlainFiles(from: string, to: string): Promise<void> {
  for await (const { name, isFile, isDirectory } of Deno.readDir(from)) {
    if (isFile) await Deno.copyFile(join(from, name), join(to, name));
    if (isDirectory) {
      await Deno.mkdir(join(to, name));
      await copyPlainFiles(join(from, name), join(to, name));
    }
  }
}
