import { requireFields, requireRecords, requireText } from "../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../result/mod.ts";
import { nearestName } from "../options/mod.ts";
import { convertUnit } from "../units/mod.ts";

/** A student's answer to be marked, as it was recorded. */
export interface RecordedAnswer extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "course.answer";
  /** Name of the question, such as `"distance"`. */
  readonly question: string;
  /** The answer with its standard uncertainty, in the unit given. */
  readonly answer: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

/** Questions of the notebook at work; empty where it does not say them. */
let asked: ReadonlyMap<string, string> = new Map();

/**
 * Says which questions a notebook asks, so that {@linkcode recordAnswer} refuses
 * a name that is misspelt and a unit that does not fit. Stands in the first cell
 * of a handout.
 *
 * @param questions Names and units.
 * @returns The names.
 *
 * @example
 * ```ts
 * import { askQuestions, recordAnswer } from "fringebook";
 * import { expect } from "vitest";
 *
 * askQuestions([{ name: "speed", unit: "m/s" }]);
 * expect(() => recordAnswer("sped", { value: 1, unit: "m/s" })).toThrow(
 *   "did you mean 'speed'?",
 * );
 * expect(recordAnswer("speed", { value: 49.7, unit: "mm/s" }).question).toBe(
 *   "speed",
 * );
 * askQuestions([]);
 * ```
 */
export function askQuestions(
  questions: readonly { readonly name: string; readonly unit: string }[],
): string[] {
  requireRecords(questions, "questions", ["name", "unit"], "ask questions");
  asked = new Map(questions.map(({ name, unit }) => [name, unit]));
  return [...asked.keys()];
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
 * import { recordAnswer } from "fringebook";
 * import { answersSoFar } from "fringebook/course";
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
 * @param given Value, unit, with or without a prefix, and standard uncertainty
 * (in the same unit).
 * @returns The recorded answer.
 * @throws {TypeError} If the value is not a finite number or there is no unit.
 * @throws {RangeError} If the standard uncertainty is negative, or there is no
 * such question, or its unit is of another kind; see {@linkcode askQuestions}.
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
  const wanted = asked.get(question);
  if (asked.size > 0 && wanted === undefined) {
    const names = [...asked.keys()];
    const near = nearestName(question, names);
    throw new RangeError(
      `Cannot record an answer to '${question}' as there is no such question${
        near === null ? "" : `: did you mean '${near}'?`
      } The questions are ${names.join(", ")}`,
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
  if (wanted !== undefined && convertUnit(value, unit, wanted) === null) {
    throw new RangeError(
      `Cannot record an answer to '${question}' as its unit is '${unit}': give it in '${wanted}', with or without a prefix`,
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
