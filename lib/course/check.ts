import { requireText } from "../options/mod.ts";
import type { Shown } from "../result/mod.ts";
import { type Answer, type AnswerCheck, checkAnswer } from "./check_answer.ts";
import { findExercise } from "./exercises/mod.ts";

/**
 * Checks an answer to an exercise of the notebooks; see
 * {@linkcode checkAnswer}. This is the one line that stands in an exercise
 * cell.
 *
 * @param name Name of the exercise, such as `"tuning.two-points"`.
 * @param answer Value and unit, and the standard uncertainty where asked for.
 * @returns Whether it is right, and a hint; never the true value.
 * @throws {RangeError} If there is no such exercise.
 *
 * @example
 * ```ts
 * import { check } from "fringebook";
 * import { expect } from "vitest";
 *
 * const answer = check("tuning.two-points", { value: NaN, unit: "m/A" });
 * expect(answer.right).toBe(false);
 * ```
 */
export function check(name: string, answer: Answer): AnswerCheck & Shown {
  requireText(name, "name", "check an answer");
  return checkAnswer(findExercise(name), answer);
}
