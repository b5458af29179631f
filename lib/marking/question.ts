import type { Notebook } from "../notebook/mod.ts";

/** A typical mistake of a question, as a formula of the truth. */
export interface QuestionMistake {
  /** What went wrong, in a few words. */
  readonly cause: string;
  /** The value that comes out is the truth times this (1) … */
  readonly times: number;
  /** … plus this, in the unit of the question. */
  readonly plus: number;
  /** What the student is told. */
  readonly hint: string;
  /** Points for a value that fits this mistake. */
  readonly points: number;
}

/** Points of a question. */
export interface QuestionPoints {
  /** For a right value. */
  readonly value: number;
  /** For an uncertainty of the right size, with a right value. */
  readonly uncertainty: number;
  /** For an uncertainty that covers the error, with a right value. */
  readonly coverage: number;
}

/** A question of an assignment, as its notebook's metadata states it. */
export interface Question {
  /** Name in `recordAnswer`, such as `"distance"`. */
  readonly name: string;
  /** SI unit of the answer, without prefix. */
  readonly unit: string;
  /** Capture of the student that it is about, such as `"my-distance"`. */
  readonly dataset: string;
  /** Name of the true value of that capture, such as `"distance"`. */
  readonly truth: string;
  /** Standard uncertainty that careful work reaches, relative to the truth (1). */
  readonly relativeStandardUncertainty: number;
  /**
   * Largest relative error of a right value (1); left out, three times the
   * standard uncertainty that careful work reaches.
   */
  readonly relativeTolerance: number;
  readonly points: QuestionPoints;
  /** What typically goes wrong. */
  readonly mistakes: readonly QuestionMistake[];
}

/** Points where a question states none. */
const usualPoints: QuestionPoints = { value: 2, uncertainty: 1, coverage: 1 };

/**
 * Reads the questions of an assignment from `metadata.fringebook.questions`.
 *
 * @param notebook The assignment.
 * @returns Its questions.
 * @throws {TypeError} If there are none or one is not complete.
 */
export function questionsOf(notebook: Notebook): Question[] {
  const own = notebook.metadata["fringebook"] as
    | { questions?: unknown }
    | undefined;
  const questions = own?.questions;
  if (!Array.isArray(questions) || questions.length === 0) {
    throw new TypeError(
      "Cannot find the questions of the assignment: put them into its metadata as fringebook.questions",
    );
  }
  const read = questions.map(completeQuestion);
  const twice = read.find(({ name }, at) =>
    read.findIndex((other) => other.name === name) !== at
  );
  if (twice !== undefined) {
    throw new TypeError(
      `Cannot use the questions of the assignment as two have the name '${twice.name}'`,
    );
  }
  return read;
}

/**
 * Fills in what a question leaves out.
 *
 * @param given The question as it stands in a file.
 * @param index Its place, from 0, for messages.
 * @throws {TypeError} If it is not complete.
 */
export function completeQuestion(given: unknown, index: number): Question {
  const fail = (why: string): never => {
    throw new TypeError(
      `Cannot use question ${
        index + 1
      } of the assignment as ${why}: current value is ${JSON.stringify(given)}`,
    );
  };
  const question = (given ?? {}) as Partial<Question>;
  const { name, unit, dataset, truth, relativeStandardUncertainty = NaN } =
    question;
  if (
    typeof name !== "string" || typeof unit !== "string" ||
    typeof dataset !== "string" || typeof truth !== "string" ||
    !(relativeStandardUncertainty > 0)
  ) {
    return fail(
      "it needs name, unit, dataset, truth and relativeStandardUncertainty",
    );
  }
  const {
    relativeTolerance = 3 * relativeStandardUncertainty,
    points = {},
    mistakes = [],
  } = question;
  if (!(relativeTolerance > 0)) fail("'relativeTolerance' must be positive");
  const all = { ...usualPoints, ...points };
  for (const value of Object.values(all)) {
    if (!(value >= 0 && Number.isFinite(value))) {
      fail("its points must be numbers that are not negative");
    }
  }
  return {
    name,
    unit,
    dataset,
    truth,
    relativeStandardUncertainty,
    relativeTolerance,
    points: all,
    mistakes: mistakes.map((mistake: Partial<QuestionMistake>) => {
      const { cause, hint, times = 1, plus = 0, points = 0 } = mistake;
      if (
        typeof cause !== "string" || typeof hint !== "string" ||
        ![times, plus, points].every(Number.isFinite) ||
        times === 1 && plus === 0
      ) {
        fail("each mistake needs a cause, a hint, and 'times' or 'plus'");
      }
      return { cause: cause!, hint: hint!, times, plus, points };
    }),
  };
}

/** Most points of a question. */
export function maximumOf({ points }: Question): number {
  return points.value + points.uncertainty + points.coverage;
}
