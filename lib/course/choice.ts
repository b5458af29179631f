import { requireText } from "../options/mod.ts";
import { createResult, provenance, type Shown, warn } from "../result/mod.ts";
import { askedQuestion, type Recorded, recorded } from "./answer_book.ts";

/** A student's choice to be marked, as it was recorded. */
export interface RecordedChoice extends Recorded {
  /** Kind of the result, by which it is shown. */
  readonly kind: "course.choice";
  /** The letter of the choice, such as `"b"`; empty while there is none. */
  readonly choice: string;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

/**
 * Records the answer to a question with choices, for marking. It says nothing
 * about right or wrong; the last answer to a question counts.
 *
 * @param question Name of the question, as it stands in the handout.
 * @param choice The letter before the choice; `""` while there is none yet.
 * @returns The recorded choice.
 * @throws {TypeError} If the choice is no text.
 * @throws {RangeError} If there is no such question or no such choice, or it
 * asks for a number; see {@linkcode askQuestions}.
 *
 * @example
 * ```ts
 * import { recordChoice } from "fringebook";
 * import { expect } from "vitest";
 *
 * expect(recordChoice("laser-class", "b").choice).toBe("b");
 * ```
 */
export function recordChoice(
  question: string,
  choice: string,
): RecordedChoice & Shown {
  const task = "record a choice";
  requireText(question, "question", task);
  if (choice !== "") requireText(choice, "choice", task);
  const wanted = askedQuestion(question);
  const letter = choice.trim();
  if (wanted !== null && wanted.choices === undefined) {
    throw new RangeError(
      `Cannot record a choice for '${question}' as it asks for a number: use recordAnswer("${question}", { value, unit: "${wanted.unit}" })`,
    );
  }
  if (wanted !== null && letter !== "" && !wanted.choices!.includes(letter)) {
    throw new RangeError(
      `Cannot record '${letter}' for '${question}' as it is none of the choices: they are ${
        wanted.choices!.join(", ")
      }`,
    );
  }
  const answer = createResult<RecordedChoice>({
    kind: "course.choice",
    question,
    choice: letter,
    warnings: letter === ""
      ? [warn("no-choice", "No choice yet: put its letter there")]
      : [],
    provenance: provenance({ method: "recordChoice" }),
    diagnostics: {},
  });
  recorded.set(question, answer);
  return answer;
}
