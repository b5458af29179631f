import { join } from "@std/path";
import { writeWhole } from "../files/mod.ts";
import { type Notebook, writeNotebook } from "../notebook/mod.ts";
import { sha256Of } from "../runtime/mod.ts";
import type { HandoutCapture } from "./handout_captures.ts";
import type { StudentKey } from "./handout_key.ts";
import {
  type Question,
  type RightAnswer,
  rightAnswer,
} from "./questions/mod.ts";

/** The right answer to each question that asks for a number. */
export function rightAnswers(
  questions: readonly Question[],
  captures: readonly HandoutCapture[],
): Map<string, RightAnswer> {
  const values = Object.fromEntries(captures.map((each) => [each.name, each]));
  return new Map(
    questions.filter(({ kind }) => kind === "number")
      .map((question) => [question.name, rightAnswer(question, values)]),
  );
}

/** What the key keeps of a student beside name and folder. */
export function studentKey(
  questions: readonly Question[],
  captures: readonly HandoutCapture[],
): Omit<StudentKey, "student" | "folder"> {
  const right = [...rightAnswers(questions, captures)];
  const each = <T>(part: (answer: RightAnswer) => T) =>
    Object.fromEntries(right.map(([name, answer]) => [name, part(answer)]));
  return {
    truth: each(({ truth }) => truth),
    expandedUncertainty: each((answer) => answer.expandedUncertainty),
    names: each(({ names }) => names),
    captures: Object.fromEntries(
      captures.map(({ bytes, file }) => [file, sha256Of(bytes)]),
    ),
  };
}

/** Writes notebook and captures. */
export async function writeFolder(
  folder: string,
  notebook: Notebook,
  { fileName, captures, questions }: {
    fileName: string;
    captures: readonly HandoutCapture[];
    questions: readonly Question[];
  },
): Promise<void> {
  await writeNotebook(join(folder, fileName), notebook);
  await writeHandoutData(join(folder, "data"), questions, captures);
}

/**
 * Writes what lies beside a handed-out notebook: captures, `bench.json` and
 * `questions.json`, which `openHandout` reads. No truth is in it.
 *
 * @param folder The folder, `data` beside the notebook.
 * @param questions The questions.
 * @param captures The captures.
 */
export async function writeHandoutData(
  folder: string,
  questions: readonly Question[],
  captures: readonly HandoutCapture[],
): Promise<void> {
  const write = (name: string, content: unknown) =>
    writeWhole(join(folder, name), JSON.stringify(content, null, 2) + "\n");
  for (const { bytes, file } of captures) {
    await writeWhole(join(folder, file), bytes);
  }
  await write(
    "bench.json",
    Object.fromEntries(
      captures.map(({ name, file, what, reading, known }) => [
        name,
        { file, what, reading, known },
      ]),
    ),
  );
  await write(
    "questions.json",
    questions.map(({ name, kind, unit, choices }) =>
      kind === "choice"
        ? { name, choices: Object.keys(choices) }
        : { name, unit }
    ),
  );
}
