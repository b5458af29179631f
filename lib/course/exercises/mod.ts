/**
 * The exercises of the notebooks: true value, tolerance, typical mistakes as
 * formulas. Their wording stands in the notebooks.
 *
 * @module
 */
import { requireText } from "../../options/mod.ts";
import { diodeExercises, safetyExercises } from "./bench.ts";
import type { Exercise } from "./exercise.ts";
import { feedbackExercises, fringeExercises } from "./fringes.ts";
import {
  ringDownExercises,
  speedExercises,
  vibrationExercises,
} from "./motion.ts";
import { distanceExercises, tuningExercises } from "./range.ts";
import {
  exploreExercises,
  recordExercises,
  uncertaintyExercises,
} from "./records.ts";

export type { Exercise, TypicalMistake } from "./exercise.ts";

const all: readonly Exercise[] = [
  ...safetyExercises(),
  ...diodeExercises(),
  ...fringeExercises(),
  ...feedbackExercises(),
  ...vibrationExercises(),
  ...ringDownExercises(),
  ...speedExercises(),
  ...tuningExercises(),
  ...distanceExercises(),
  ...uncertaintyExercises(),
  ...exploreExercises(),
  ...recordExercises(),
];

const byName = new Map(all.map((each) => [each.name, each]));

/** Names of all exercises, in the order of the notebooks. */
export const exerciseNames: readonly string[] = all.map(({ name }) => name);

/**
 * Finds an exercise of the notebooks.
 *
 * @param name Name of the exercise, such as `"tuning.two-points"`.
 * @returns The exercise.
 * @throws {RangeError} If there is no such exercise; the message lists those
 * with a similar beginning.
 *
 * @example
 * ```ts
 * import { findExercise } from "fringebook/course";
 * import { expect } from "vitest";
 *
 * expect(findExercise("tuning.two-points").unit).toBe("m/A");
 * expect(() => findExercise("tuning.nothing")).toThrow("tuning.two-points");
 * ```
 */
export function findExercise(name: string): Exercise {
  requireText(name, "name", "find an exercise");
  const found = byName.get(name);
  if (found !== undefined) return found;
  const room = name.split(".")[0] ?? "";
  const similar = exerciseNames.filter((each) => each.startsWith(`${room}.`));
  throw new RangeError(
    `Cannot find the exercise '${name}': there are ${
      (similar.length > 0 ? similar : exerciseNames).join(", ")
    }`,
  );
}
