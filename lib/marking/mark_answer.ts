import { diagnoseMistake } from "../course/mod.ts";

/** An answer as it was recorded in a hand-in. */
export interface GivenAnswer {
  /** The value, in `unit`. */
  readonly value: number;
  /** Standard uncertainty, in `unit`; `NaN` where none was given. */
  readonly standardUncertainty: number;
  /** Unit as given. */
  readonly unit: string;
}

/** What {@linkcode markAnswer} compares with. */
export interface AnswerKey {
  /** The true value, in `unit`. */
  readonly truth: number;
  /** SI unit without prefix. */
  readonly unit: string;
  /** Standard uncertainty that careful work reaches, in `unit`. */
  readonly referenceStandardUncertainty: number;
}

/** Points and reasons of one answer. */
export interface AnswerMark {
  /** Points, 0 to {@linkcode pointsPerAnswer}. */
  readonly points: number;
  /** One plain sentence per point lost or won. */
  readonly reasons: readonly string[];
}

/** Most points of one answer: two for the value, one each for u and coverage. */
export const pointsPerAnswer = 4;

/**
 * Marks one answer. Two points for a value within five reference uncertainties
 * of the truth; one for a standard uncertainty within a factor of five of the
 * reference; one where the stated ± 2u covers the error and u is no larger than
 * five times the reference.
 *
 * @param answer The recorded answer; `null` where there is none.
 * @param key Truth, unit and reference uncertainty.
 * @returns Points with reasons.
 */
export function markAnswer(
  answer: GivenAnswer | null,
  key: AnswerKey,
): AnswerMark {
  const { truth, unit, referenceStandardUncertainty } = key;
  if (answer === null) return { points: 0, reasons: ["no answer recorded"] };
  if (answer.unit !== unit) {
    return {
      points: 0,
      reasons: [`the unit is '${answer.unit}', asked for was '${unit}'`],
    };
  }
  const reasons: string[] = [];
  let points = 0;
  const error = Math.abs(answer.value - truth);
  if (error <= 5 * referenceStandardUncertainty) {
    points += 2;
    reasons.push("the value is right");
  } else {
    const mistake = diagnoseMistake(answer.value, {
      truth,
      tolerance: 5 * referenceStandardUncertainty,
    });
    reasons.push(
      mistake === null
        ? "the value is too far from the truth"
        : `the value is wrong; it looks like: ${mistake.kind}`,
    );
  }
  const u = answer.standardUncertainty;
  if (!(u > 0)) {
    reasons.push("no standard uncertainty");
    return { points, reasons };
  }
  const ratio = u / referenceStandardUncertainty;
  if (ratio > 5) {
    reasons.push("the uncertainty is far larger than the measurement allows");
    return { points, reasons };
  }
  if (ratio >= 1 / 5) {
    points++;
    reasons.push("the uncertainty is sensible");
  } else {
    reasons.push("the uncertainty is far smaller than the measurement allows");
  }
  if (error <= 2 * u) {
    points++;
    reasons.push("the stated uncertainty covers the error");
  } else {
    reasons.push("the stated uncertainty does not cover the error");
  }
  return { points, reasons };
}
