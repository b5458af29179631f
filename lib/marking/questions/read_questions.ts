import { parse } from "@std/yaml/parse";
import { readTextUpTo } from "../../runtime/mod.ts";
import { completeQuestion, type Question } from "./question.ts";
import { refuseUnknownFields } from "./refuse_fields.ts";

/** Largest questions file that is read, in bytes. */
const largest = 2 ** 20;

/** Something that the teacher looks at and marks by hand. */
export interface Criterion {
  /** Short name, such as `"figures"`. */
  readonly name: string;
  /** What earns the points, one sentence. */
  readonly text: string;
  /** Most points. */
  readonly points: number;
}

/** A questions file. */
export interface QuestionsFile {
  /** Title of the assignment. */
  readonly title: string;
  /** File name of the notebook, beside the questions file. */
  readonly notebook: string;
  /** Simulated captures that each student gets anew, by name. */
  readonly simulated: readonly string[];
  /** Folder with own captures, beside the questions file; `null` for none. */
  readonly bench: string | null;
  readonly questions: readonly Question[];
  /** What is marked by hand. */
  readonly criteria: readonly Criterion[];
}

const fields = [
  ...["title", "notebook", "simulated", "bench", "questions", "criteria"],
];

/**
 * Reads a questions file: plain data in YAML 1.2 (of which JSON is a part).
 *
 * @param path Path of the file.
 * @returns Its content, with all that it leaves out filled in.
 * @throws {SyntaxError} If it is no YAML; the message says where.
 * @throws {TypeError} If something is missing or has no meaning.
 */
export async function readQuestions(path: string): Promise<QuestionsFile> {
  return parseQuestions(await readTextUpTo(path, largest), path);
}

/** The same, of a text. */
export function parseQuestions(text: string, path: string): QuestionsFile {
  const own = readFields(text, path);
  const fail = (why: string): never => {
    throw new TypeError(`Cannot use the questions file '${path}' as ${why}`);
  };
  refuseUnknownFields(own, fields, fail);
  const textOf = (field: string): string | null => {
    const value = own[field] ?? null;
    if (value === null || typeof value === "string") return value;
    return fail(`'${field}' must be a text`);
  };
  const listOf = (field: string): readonly unknown[] => {
    const value = own[field] ?? [];
    return Array.isArray(value) ? value : fail(`'${field}' must be a list`);
  };
  const title = textOf("title") ?? fail("it has no 'title'");
  const notebook = textOf("notebook") ??
    fail("it has no 'notebook', the file name of the assignment beside it");
  for (const name of [notebook, textOf("bench") ?? "x"]) {
    if (/[\\/]/.test(name) || name.startsWith(".")) {
      fail(`'${name}' must lie beside it`);
    }
  }
  const questions = listOf("questions").map((given, index) => {
    try {
      return completeQuestion(given, index);
    } catch (error) {
      if (!(error instanceof TypeError)) throw error;
      throw new TypeError(`${error.message} (in '${path}')`);
    }
  });
  if (questions.length === 0) fail("it asks no question: add 'questions'");
  const criteria = listOf("criteria").map((given) =>
    readCriterion(given, fail)
  );
  const names = [...questions, ...criteria].map(({ name }) => name);
  const twice = names.find((name, at) => names.indexOf(name) !== at);
  if (twice !== undefined) fail(`the name '${twice}' stands twice`);
  return {
    title,
    notebook,
    simulated: listOf("simulated").map(String),
    bench: textOf("bench"),
    questions,
    criteria,
  };
}

/** Fields of a YAML file. */
export function readFields(
  text: string,
  path: string,
): Readonly<Record<string, unknown>> {
  let value: unknown;
  try {
    value = parse(text.replace(/^\uFEFF/, ""));
  } catch (error) {
    const why = error instanceof Error ? error.message : String(error);
    throw new SyntaxError(
      `Cannot read '${path}' as it is no YAML: ${why.split("\n")[0]}`,
    );
  }
  if (typeof value === "object" && value !== null && !Array.isArray(value)) {
    return value as Record<string, unknown>;
  }
  throw new SyntaxError(
    `Cannot read '${path}' as it holds no lines 'field: value'`,
  );
}

function readCriterion(
  given: unknown,
  fail: (why: string) => never,
): Criterion {
  const { name, text, points } = (given ?? {}) as Partial<Criterion>;
  if (
    typeof name !== "string" || !/^[\p{L}\p{N}_-]{1,60}$/u.test(name) ||
    typeof text !== "string" || typeof points !== "number" ||
    !(points > 0 && points < 1e6)
  ) {
    return fail(
      `each of the 'criteria' needs a 'name', a 'text' and positive 'points': current value is ${
        JSON.stringify(given)
      }`,
    );
  }
  return { name, text: text.trim(), points };
}
