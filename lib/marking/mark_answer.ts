import { diagnoseMistake } from "../course/mod.ts";
import { convertUnit } from "../units/mod.ts";
import { maximumOf, type Question } from "./question.ts";

/** An answer as it was recorded in a hand-in. */
export interface GivenAnswer {
  /** The value, in `unit`. */
  readonly value: number;
  /** Standard uncertainty, in `unit`; `NaN` where none was given. */
  readonly standardUncertainty: number;
  /** Unit as given, with or without a prefix. */
  readonly unit: string;
}

/** Points and reasons of one answer. */
export interface AnswerMark {
  /** SI unit of the numbers below. */
  readonly unit: string;
  /** The student's value; `null` where there is none in a unit that fits. */
  readonly value: number | null;
  /** The student's standard uncertainty; `NaN` where there is none. */
  readonly standardUncertainty: number;
  /** The true value of the student's own capture. */
  readonly truth: number;
  /** Largest error of a right value. */
  readonly tolerance: number;
  /** Whether the value is right. */
  readonly right: boolean;
  readonly points: number;
  readonly maximum: number;
  /** Cause of a recognised mistake; `null` where there is none. */
  readonly cause: string | null;
  /** What the student is told of it; `null` where there is none. */
  readonly hint: string | null;
  /** One plain sentence per point lost or won. */
  readonly reasons: readonly string[];
}

/**
 * Marks one answer against the truth of the student's own capture. A value is
 * right within the tolerance of the question; its unit may carry a prefix. The
 * uncertainty counts only with a right value: one part for a standard
 * uncertainty within a factor of five of what careful work reaches, one where the
 * stated ± 2u covers the error and u is no larger than five times that.
 *
 * @param answer The recorded answer; `null` where there is none.
 * @param question Unit, tolerance, points, mistakes.
 * @param truth The true value, in the unit of the question.
 * @returns Points with reasons.
 */
export function markAnswer(
  answer: GivenAnswer | null,
  question: Question,
  truth: number,
): AnswerMark {
  const { unit, points, relativeTolerance } = question;
  const tolerance = relativeTolerance * Math.abs(truth);
  const value = answer === null
    ? null
    : convertUnit(answer.value, answer.unit, unit);
  const empty: AnswerMark = {
    unit,
    value,
    standardUncertainty: NaN,
    truth,
    tolerance,
    right: false,
    points: 0,
    maximum: maximumOf(question),
    cause: null,
    hint: null,
    reasons: [],
  };
  if (answer === null) return { ...empty, reasons: ["no answer recorded"] };
  if (value === null) {
    return {
      ...empty,
      reasons: [`the unit is '${answer.unit}', asked for was '${unit}'`],
    };
  }
  const u = convertUnit(answer.standardUncertainty, answer.unit, unit)!;
  const error = Math.abs(value - truth);
  if (error > tolerance) {
    return {
      ...empty,
      standardUncertainty: u,
      ...wrong(value, question, truth),
    };
  }
  const reference = question.relativeStandardUncertainty * Math.abs(truth);
  const shares = uncertaintyShares(u, u / reference, error);
  return {
    ...empty,
    standardUncertainty: u,
    right: true,
    points: points.value + (shares.sensible ? points.uncertainty : 0) +
      (shares.covers ? points.coverage : 0),
    reasons: ["the value is right", ...shares.reasons],
  };
}

/** What became of a wrong value: a mistake of the question, or none known. */
function wrong(
  value: number,
  { mistakes, relativeTolerance }: Question,
  truth: number,
): Pick<AnswerMark, "points" | "cause" | "hint" | "reasons"> {
  const known = mistakes.map((mistake) => ({
    ...mistake,
    value: truth * mistake.times + mistake.plus,
  }));
  const found = diagnoseMistake(value, {
    truth,
    tolerance: relativeTolerance * Math.abs(truth),
    mistakes: known,
  });
  const percent = Number((100 * relativeTolerance).toPrecision(2));
  if (found === null) {
    return {
      points: 0,
      cause: null,
      hint: null,
      reasons: [`the value is not within ${percent} % of the truth`],
    };
  }
  const { cause, hint } = found;
  const points = known.find((each) => each.cause === cause)?.points ?? 0;
  const reasons = [`the value is wrong; it comes out with: ${cause}`];
  return { points, cause, hint, reasons };
}

function uncertaintyShares(
  u: number,
  ratio: number,
  error: number,
): { sensible: boolean; covers: boolean; reasons: string[] } {
  const none = { sensible: false, covers: false };
  if (!(u > 0)) return { ...none, reasons: ["no standard uncertainty"] };
  if (ratio > 5) {
    const why = "the uncertainty is far larger than the measurement allows";
    return { ...none, reasons: [why] };
  }
  const sensible = ratio >= 1 / 5;
  const covers = error <= 2 * u;
  return {
    sensible,
    covers,
    reasons: [
      sensible
        ? "the uncertainty is sensible"
        : "the uncertainty is far smaller than the measurement allows",
      covers
        ? "the stated uncertainty covers the error"
        : "the stated uncertainty does not cover the error",
    ],
  };
}
