import { formatQuantity } from "../../display/mod.ts";
import type { HandMark } from "../grade_class.ts";
import type { AnswerMark } from "../mark_answer.ts";

/** A text that no spreadsheet takes for a formula. */
export function plain(text: string): string {
  return /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
}

/** The student's choice, or value with U (k = 2), or that there is none. */
export function givenText(
  { value, standardUncertainty, unit, choice }: AnswerMark,
): string {
  if (choice !== null) return choice;
  if (value === null) return "none";
  const u = standardUncertainty >= 0 ? standardUncertainty : NaN;
  return formatQuantity({ value, standardUncertainty: u, unit }, {
    form: "plus-minus",
  });
}

/** The right choice, or the true value to a tenth of its tolerance. */
export function truthText(
  { truth, tolerance, unit, rightChoice }: AnswerMark,
): string {
  if (rightChoice !== null) return rightChoice;
  const standardUncertainty = tolerance / 10;
  const quantity = { value: truth, standardUncertainty, unit };
  return formatQuantity(quantity, { form: "plus-minus" }).replace(
    /^\((.*) ± .*?\) ?(.*), k = .*$/,
    "$1 $2",
  ).trim();
}

/** Points by hand, or that there are none yet. */
export function handText({ points, maximum }: HandMark): string {
  return points === null
    ? `not marked (of ${maximum})`
    : `${points} of ${maximum}`;
}

/** Names of what a class is marked for by hand. */
export function criterionNames(
  marks: readonly { readonly byHand: Readonly<Record<string, unknown>> }[],
): string[] {
  return [...new Set(marks.flatMap(({ byHand }) => Object.keys(byHand)))];
}

/** Names of the questions of a class. */
export function questionNames(
  marks: readonly { readonly answers: Readonly<Record<string, unknown>> }[],
): string[] {
  return [...new Set(marks.flatMap(({ answers }) => Object.keys(answers)))];
}
