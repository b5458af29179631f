import { requireFields } from "../options/mod.ts";
import { createResult, provenance } from "../result/mod.ts";
import type { Result, Shown } from "../result/mod.ts";
import type { Exercise } from "./exercises/mod.ts";
import { diagnoseMistake } from "./mistake.ts";
import { convertUnit } from "../units/mod.ts";

/** A student's answer. */
export interface Answer {
  /** The number, in `unit`. */
  readonly value: number;
  /** Unit, such as `"m"` or `"mm"`. */
  readonly unit: string;
  /**
   * Standard uncertainty, in `unit`.
   *
   * @default {NaN}
   */
  readonly standardUncertainty?: number;
}

/** What the check says of an answer; never holds the true value. */
export interface AnswerCheck extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "course.check";
  /** Name of the exercise. */
  readonly exercise: string;
  /** Whether the answer is right. */
  readonly right: boolean;
  /** One plain sentence: right, or a hint. */
  readonly message: string;
  /** Cause of the recognised mistake; `null` if none. */
  readonly mistake: string | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

/**
 * Checks an answer against the hidden truth of an exercise and hints at what
 * went wrong. An answer is right within the exercise's tolerance; its unit may
 * carry a prefix. A hint is given only where the answer matches the value of a
 * mistake within that tolerance. It never tells the true value.
 *
 * @param exercise The exercise with its truth.
 * @param answer Value, unit and, where asked for, standard uncertainty.
 * @returns Whether it is right, and a hint.
 *
 * @example
 * ```ts
 * import { checkAnswer } from "fringebook/course";
 * import { expect } from "vitest";
 *
 * const exercise = {
 *   name: "fringes.travel",
 *   truth: 4e-6,
 *   unit: "m",
 *   relativeTolerance: 0.02,
 *   needsUncertainty: false,
 *   mistakes: [{
 *     cause: "a whole wavelength for half of one",
 *     value: 8e-6,
 *     hint: "How far does the light go for one fringe?",
 *   }],
 *   lookAt: "the way of the light",
 * };
 * expect(checkAnswer(exercise, { value: 4.01, unit: "µm" }).right).toBe(true);
 * expect(checkAnswer(exercise, { value: 8e-6, unit: "m" }).mistake).toBe(
 *   "a whole wavelength for half of one",
 * );
 * ```
 */
export function checkAnswer(
  exercise: Exercise,
  answer: Answer,
): AnswerCheck & Shown {
  const task = "check an answer";
  requireFields(exercise, "exercise", ["name", "truth"], task);
  requireFields(answer, "answer", [], task);
  const { standardUncertainty = NaN } = answer;
  const { truth, unit, relativeTolerance, mistakes, lookAt } = exercise;
  const tolerance = relativeTolerance * Math.abs(truth);
  const finish = (right: boolean, message: string, mistake?: string) =>
    createResult<AnswerCheck>({
      kind: "course.check",
      exercise: exercise.name,
      right,
      message,
      mistake: mistake ?? null,
      warnings: [],
      provenance: provenance({ method: "checkAnswer" }),
      diagnostics: {},
    });

  if (typeof answer.value !== "number" || !Number.isFinite(answer.value)) {
    return finish(
      false,
      `No number yet: 'value' is ${answer.value}. Put your result there.`,
    );
  }
  const value = convertUnit(answer.value, String(answer.unit), unit);
  if (value === null) {
    return finish(
      false,
      `The unit is '${answer.unit}', and what is asked for has the unit '${unit}', with or without a prefix.`,
    );
  }
  const u = convertUnit(standardUncertainty, String(answer.unit), unit)!;
  if (exercise.needsUncertainty && !(u > 0)) {
    return finish(
      false,
      "A number without an uncertainty is half an answer: give 'standardUncertainty' too.",
    );
  }
  if (Math.abs(value - truth) <= tolerance) {
    return exercise.needsUncertainty && u > 10 * tolerance
      ? finish(
        false,
        "The value fits, but your uncertainty is far larger than this measurement allows. Which term dominates it?",
      )
      : finish(true, "Right.");
  }
  const mistake = diagnoseMistake(value, { truth, tolerance, mistakes });
  return finish(
    false,
    mistake?.hint ??
      `Not within ${
        Number((100 * relativeTolerance).toPrecision(2))
      } % of what is asked for: look at ${lookAt}.`,
    mistake?.cause,
  );
}
