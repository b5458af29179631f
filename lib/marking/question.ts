import type { Notebook } from "../notebook/mod.ts";

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
  /**
   * Standard uncertainty that careful work reaches, relative to the truth (1);
   * an answer further off than five times this earns no points for its value.
   */
  readonly relativeStandardUncertainty: number;
}

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
  return questions.map((given: Partial<Question>, index) => {
    const { name, unit, dataset, truth, relativeStandardUncertainty } = given;
    if (
      typeof name !== "string" || typeof unit !== "string" ||
      typeof dataset !== "string" || typeof truth !== "string" ||
      !(Number(relativeStandardUncertainty) > 0)
    ) {
      throw new TypeError(
        `Cannot use question ${
          index + 1
        } of the assignment as it needs name, unit, dataset, truth and relativeStandardUncertainty: current value is ${
          JSON.stringify(given)
        }`,
      );
    }
    return {
      name,
      unit,
      dataset,
      truth,
      relativeStandardUncertainty: relativeStandardUncertainty!,
    };
  });
}
