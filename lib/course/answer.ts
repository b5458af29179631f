import { requireFields, requireText } from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";

/** A student's answer to be marked, as it was recorded. */
export interface RecordedAnswer extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "course.answer";
  /** Name of the question, such as `"distance"`. */
  readonly question: string;
  /** The answer with its standard uncertainty, in SI units. */
  readonly answer: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

const recorded = new Map<string, RecordedAnswer & Shown>();

/**
 * The answers recorded so far in this session, the last one to each question: a
 * cell shows its last value only, and an answer may stand anywhere in it.
 *
 * @returns The answers, in the order of the questions' first answers.
 *
 * @example
 * ```ts
 * import { answersSoFar, recordAnswer } from "fringebook";
 * import { expect } from "vitest";
 *
 * recordAnswer("height", { value: 0.3, unit: "m" });
 * recordAnswer("height", { value: 0.4, unit: "m" });
 * const last = answersSoFar().find(({ question }) => question === "height");
 * expect(last?.answer.value).toBe(0.4);
 * ```
 */
export function answersSoFar(): (RecordedAnswer & Shown)[] {
  return [...recorded.values()];
}

/**
 * Records an answer for marking. It says nothing about right or wrong; the last
 * answer to a question counts.
 *
 * @param question Name of the question, as it stands in the handout.
 * @param given Value, SI unit without prefix, and standard uncertainty (in the
 * same unit).
 * @returns The recorded answer.
 * @throws {TypeError} If the value is not a finite number or there is no unit.
 * @throws {RangeError} If the standard uncertainty is negative.
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
  if (typeof value !== "number" || !Number.isFinite(value)) {
    throw new TypeError(
      `Cannot record an answer to '${question}' as 'value' must be a finite number: current value is ${value}`,
    );
  }
  if (typeof unit !== "string" || unit === "") {
    throw new TypeError(
      `Cannot record an answer to '${question}' as 'unit' is missing: give the SI unit without a prefix, such as "m"`,
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
