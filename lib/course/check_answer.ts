import { requireFields } from "../options/mod.ts";
import { createResult, provenance } from "../result/mod.ts";
import type { Result, Shown } from "../result/mod.ts";
import { diagnoseMistake, type Mistake, type MistakeKind } from "./mistake.ts";

/** An exercise with its hidden truth. */
export interface Exercise {
  /** Short stable name, such as `"fringes.travel"`. */
  readonly name: string;
  /** The true value, in `unit`. */
  readonly truth: number;
  /** SI unit symbol without prefix, in which the answer is expected. */
  readonly unit: string;
  /** Largest relative error that counts as right (1). */
  readonly relativeTolerance: number;
  /** Whether an uncertainty belongs to the answer. */
  readonly needsUncertainty: boolean;
  /** Wrong values that the exercise invites, in `unit`. */
  readonly pitfalls: Partial<Record<MistakeKind, number>>;
}

/** A student's answer. */
export interface Answer {
  /** The number, in `unit`. */
  readonly value: number;
  /** Unit, such as `"m"`. */
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
  /** Kind of the recognised mistake; `null` if none. */
  readonly mistake: MistakeKind | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: Record<never, never>;
}

/**
 * Checks an answer against the hidden truth of an exercise and hints at the
 * kind of mistake. An answer is right where it lies within the exercise's
 * tolerance or, if it carries an uncertainty u no larger than that tolerance,
 * within 2u + tolerance. It never tells the true value.
 *
 * @param exercise The exercise with its truth.
 * @param answer Value, unit and, where asked for, standard uncertainty.
 * @returns Whether it is right, and a hint.
 *
 * @example
 * ```ts
 * import { checkAnswer } from "fringebook";
 * import { expect } from "vitest";
 *
 * const exercise = {
 *   name: "fringes.travel",
 *   truth: 4e-6,
 *   unit: "m",
 *   relativeTolerance: 0.02,
 *   needsUncertainty: false,
 *   pitfalls: { "wavelength for half a wavelength": 8e-6 },
 * };
 * expect(checkAnswer(exercise, { value: 4.01e-6, unit: "m" }).right).toBe(true);
 * expect(checkAnswer(exercise, { value: 8e-6, unit: "m" }).mistake).toBe(
 *   "wavelength for half a wavelength",
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
  const { value, unit, standardUncertainty = NaN } = answer;
  const tolerance = exercise.relativeTolerance * Math.abs(exercise.truth);
  const finish = (
    right: boolean,
    message: string,
    mistake: MistakeKind | null,
  ) =>
    createResult<AnswerCheck>({
      kind: "course.check",
      exercise: exercise.name,
      right,
      message,
      mistake,
      warnings: [],
      provenance: provenance({ method: "checkAnswer" }),
      diagnostics: {},
    });

  if (typeof value !== "number" || !Number.isFinite(value)) {
    return finish(
      false,
      `No number yet: 'value' is ${value}. Put your result there.`,
      null,
    );
  }
  if (unit !== exercise.unit) {
    return finish(
      false,
      `The unit is '${unit}'; give the answer in '${exercise.unit}', without a prefix.`,
      null,
    );
  }
  if (exercise.needsUncertainty && !(standardUncertainty > 0)) {
    return finish(
      false,
      "A number without an uncertainty is half an answer: give 'standardUncertainty' too.",
      null,
    );
  }
  const slack = standardUncertainty > 0
    ? 2 * Math.min(standardUncertainty, tolerance)
    : 0;
  if (Math.abs(value - exercise.truth) <= tolerance + slack) {
    return exercise.needsUncertainty && standardUncertainty > 10 * tolerance
      ? finish(
        false,
        "The value fits, but your uncertainty is far larger than this measurement allows. Which term dominates it?",
        null,
      )
      : finish(true, "Right.", null);
  }
  const mistake: Mistake | null = diagnoseMistake(value, {
    truth: exercise.truth,
    tolerance,
    pitfalls: exercise.pitfalls,
  });
  return finish(
    false,
    mistake?.hint ??
      "Not yet, and the number does not tell which step went wrong. Check each step with its unit.",
    mistake?.kind ?? null,
  );
}
