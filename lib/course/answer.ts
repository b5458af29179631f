import { requireFields, requireText } from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Shown,
} from "../result/mod.ts";
import { convertUnit } from "../units/mod.ts";
import { askedQuestion, type Recorded, recorded } from "./answer_book.ts";
import type { RecordedChoice } from "./choice.ts";

/** A student's answer to be marked, as it was recorded. */
export interface RecordedAnswer extends Recorded {
  /** Kind of the result, by which it is shown. */
  readonly kind: "course.answer";
  /** The answer with its standard uncertainty, in the unit given. */
  readonly answer: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

/**
 * The answers recorded so far in this session, the last one to each question: a
 * cell shows its last value only, and an answer may stand anywhere in it.
 *
 * @returns The answers, in the order of the questions' first answers.
 *
 * @example
 * ```ts
 * import { recordAnswer } from "fringebook";
 * import { answersSoFar } from "fringebook/course";
 * import { expect } from "vitest";
 *
 * recordAnswer("height", { value: 0.3, unit: "m" });
 * recordAnswer("height", { value: 0.4, unit: "m" });
 * const last = answersSoFar().find(({ question }) => question === "height");
 * expect(last?.kind === "course.answer" && last.answer.value).toBe(0.4);
 * ```
 */
export function answersSoFar(): ((RecordedAnswer | RecordedChoice) & Shown)[] {
  return [
    ...recorded.values(),
  ] as ((RecordedAnswer | RecordedChoice) & Shown)[];
}

/**
 * Records an answer for marking. It says nothing about right or wrong; the last
 * answer to a question counts.
 *
 * @param question Name of the question, as it stands in the handout.
 * @param given Value, unit, with or without a prefix, and standard uncertainty
 * (in the same unit).
 * @returns The recorded answer.
 * @throws {TypeError} If the value is not a finite number or there is no unit.
 * @throws {RangeError} If the standard uncertainty is negative, or there is no
 * such question, or it asks for a choice, or its unit is of another kind; see
 * {@linkcode askQuestions}.
 *
 * @example
 * ```ts
 * import { recordAnswer } from "fringebook";
 * import { expect } from "vitest";
 *
 * const recorded = recordAnswer("distance", {
 *   value: 0.2,
 *   standardUncertainty: 0.001,
 *   unit: "m",
 * });
 * expect(recorded.answer.unit).toBe("m");
 * ```
 */
export function recordAnswer(
  question: string,
  given: { value: number; unit: string; standardUncertainty?: number },
): RecordedAnswer & Shown {
  const task = "record an answer";
  requireText(question, "question", task);
  requireFields(given, "given", ["value", "unit"], task);
  const { value, unit, standardUncertainty = NaN } = given;
  const wanted = askedQuestion(question);
  if (wanted?.choices !== undefined) {
    throw new RangeError(
      `Cannot record a number for '${question}' as it asks for a choice: use recordChoice("${question}", "${
        wanted.choices[0]
      }")`,
    );
  }
  if (typeof value !== "number" || !Number.isFinite(value)) {
    throw new TypeError(
      `Cannot record an answer to '${question}' as 'value' must be a finite number: current value is ${value}`,
    );
  }
  if (typeof unit !== "string" || unit === "") {
    throw new TypeError(
      `Cannot record an answer to '${question}' as 'unit' is missing: give it, such as "m" or "mm"`,
    );
  }
  const expected = wanted?.unit ?? unit;
  if (convertUnit(value, unit, expected) === null) {
    throw new RangeError(
      `Cannot record an answer to '${question}' as its unit is '${unit}': give it in '${expected}', with or without a prefix`,
    );
  }
  const answer = createResult<RecordedAnswer>({
    kind: "course.answer",
    question,
    answer: quantity(value, standardUncertainty, unit),
    warnings: [],
    provenance: provenance({ method: "recordAnswer" }),
    diagnostics: {},
  });
  recorded.set(question, answer);
  return answer;
}
