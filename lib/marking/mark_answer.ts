import { diagnoseMistake } from "../course/mod.ts";
import { convertUnit } from "../units/mod.ts";
import {
  allowanceOf,
  evaluateFormula,
  type FormulaNames,
  maximumOf,
  type Question,
} from "./questions/mod.ts";

/** An answer as it was recorded in a hand-in. */
export interface GivenAnswer {
  /** The value, in `unit`; `NaN` for a choice. */
  readonly value: number;
  /** Standard uncertainty, in `unit`; `NaN` where none was given. */
  readonly standardUncertainty: number;
  /** Unit as given, with or without a prefix. */
  readonly unit: string;
  /** The letter of a choice; left out for a number. */
  readonly choice?: string;
}

/** What an answer is compared with. */
export interface Expected {
  /** The true or accepted value, in the unit of the question. */
  readonly truth: number;
  /**
   * Its expanded uncertainty (k = 2).
   *
   * @default {0}
   */
  readonly expandedUncertainty?: number;
  /**
   * What formulas of mistakes may use beside `truth`.
   *
   * @default {{}}
   */
  readonly names?: FormulaNames;
}

/** Points and reasons of one answer. */
export interface AnswerMark {
  /** Whether a number or a choice was asked for. */
  readonly kind: Question["kind"];
  /** SI unit of the numbers below. */
  readonly unit: string;
  /** The student's value; `null` where there is none in a unit that fits. */
  readonly value: number | null;
  /** The student's choice; `null` where there is none. */
  readonly choice: string | null;
  /** The student's standard uncertainty; `NaN` where there is none. */
  readonly standardUncertainty: number;
  /** The true value for the student's own capture; `NaN` for a choice. */
  readonly truth: number;
  /** The right choice; `null` for a number. */
  readonly rightChoice: string | null;
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
 * right within the tolerance of the question, with which the expanded uncertainty
 * of an accepted value adds up in squares; its unit may carry a prefix. The
 * uncertainty counts only with a right value: one part for a standard
 * uncertainty within a factor of five of what careful work reaches, one where the
 * stated ± 2u, with the U of an accepted value, covers the error and u is no
 * larger than five times that.
 *
 * @param answer The recorded answer; `null` where there is none.
 * @param question Unit, tolerance, points, mistakes.
 * @param expected The true value, in the unit of the question; of no meaning for
 * a choice.
 * @returns Points with reasons.
 */
export function markAnswer(
  answer: GivenAnswer | null,
  question: Question,
  expected: Expected,
): AnswerMark {
  const empty = emptyMark(question, expected);
  if (answer === null) return { ...empty, reasons: ["no answer recorded"] };
  return question.kind === "choice"
    ? markChoice(answer, question, empty)
    : markNumber(answer, question, expected, empty);
}

function emptyMark(question: Question, expected: Expected): AnswerMark {
  const { kind, unit, tolerance } = question;
  const isChoice = kind === "choice";
  const truth = isChoice ? NaN : expected.truth;
  return {
    kind,
    unit,
    value: null,
    choice: null,
    standardUncertainty: NaN,
    truth,
    rightChoice: isChoice ? question.truth : null,
    tolerance: isChoice ? NaN : Math.hypot(
      allowanceOf(tolerance, unit, truth) ?? NaN,
      expected.expandedUncertainty ?? 0,
    ),
    right: false,
    points: 0,
    maximum: maximumOf(question),
    cause: null,
    hint: null,
    reasons: [],
  };
}

function markChoice(
  answer: GivenAnswer,
  { truth, points, mistakes }: Question,
  empty: AnswerMark,
): AnswerMark {
  const { choice = null }: { choice?: string | null } = answer;
  const given = { ...empty, choice };
  if (choice === "") {
    return { ...empty, reasons: ["no choice recorded"] };
  }
  if (choice === null) {
    return {
      ...given,
      reasons: ["a number was recorded, asked for was a choice"],
    };
  }
  if (choice === truth) {
    return {
      ...given,
      right: true,
      points: points.value,
      reasons: ["the choice is right"],
    };
  }
  const found = mistakes.find(({ value }) => value === choice);
  return found === undefined
    ? { ...given, reasons: ["the choice is wrong"] }
    : {
      ...given,
      points: found.points,
      cause: found.cause,
      hint: found.hint,
      reasons: [`the choice is wrong: ${found.cause}`],
    };
}

function markNumber(
  answer: GivenAnswer,
  question: Question,
  expected: Expected,
  empty: AnswerMark,
): AnswerMark {
  const { unit, points, reachable } = question;
  const { tolerance } = empty;
  const { truth, expandedUncertainty = 0 } = expected;
  if (answer.choice !== undefined) {
    return {
      ...empty,
      reasons: ["a choice was recorded, asked for was a number"],
    };
  }
  const value = convertUnit(answer.value, answer.unit, unit);
  if (value === null) {
    return {
      ...empty,
      reasons: [`the unit is '${answer.unit}', asked for was '${unit}'`],
    };
  }
  const u = convertUnit(answer.standardUncertainty, answer.unit, unit)!;
  const given = { ...empty, value, standardUncertainty: u };
  const error = Math.abs(value - truth);
  if (!(error <= tolerance)) {
    return { ...given, ...wrong(value, question, expected, tolerance) };
  }
  if (points.uncertainty + points.coverage === 0) {
    const reasons = ["the value is right"];
    return { ...given, right: true, points: points.value, reasons };
  }
  const reference = allowanceOf(reachable, unit, truth) ?? NaN;
  const shares = uncertaintyShares(u, u / reference, {
    error,
    covered: Math.hypot(2 * u, expandedUncertainty),
  });
  return {
    ...given,
    right: true,
    points: points.value + (shares.sensible ? points.uncertainty : 0) +
      (shares.covers ? points.coverage : 0),
    reasons: ["the value is right", ...shares.reasons],
  };
}

/** What became of a wrong value: a mistake of the question, or none known. */
function wrong(
  value: number,
  question: Question,
  { truth, names = {} }: Expected,
  tolerance: number,
): Pick<AnswerMark, "points" | "cause" | "hint" | "reasons"> {
  const known = question.mistakes.map((mistake) => ({
    ...mistake,
    value: evaluateFormula(mistake.value, { ...names, truth }),
  })).filter((mistake) => Number.isFinite(mistake.value));
  const found = diagnoseMistake(value, { truth, tolerance, mistakes: known });
  if (found === null) {
    return {
      points: 0,
      cause: null,
      hint: null,
      reasons: [`the value is not within ${question.tolerance} of the truth`],
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
  { error, covered }: { error: number; covered: number },
): { sensible: boolean; covers: boolean; reasons: string[] } {
  const none = { sensible: false, covers: false };
  if (!(u > 0)) return { ...none, reasons: ["no standard uncertainty"] };
  if (ratio > 5) {
    const why = "the uncertainty is far larger than the measurement allows";
    return { ...none, reasons: [why] };
  }
  const sensible = ratio >= 1 / 5;
  const covers = error <= covered;
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
