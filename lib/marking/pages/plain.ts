import { formatQuantity } from "../../display/mod.ts";
import type { AnswerMark } from "../mark_answer.ts";

/** A text that no spreadsheet takes for a formula. */
export function plain(text: string): string {
  return /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
}

/** The student's value with U (k = 2), or that there is none. */
export function givenText(
  { value, standardUncertainty, unit }: AnswerMark,
): string {
  if (value === null) return "none";
  const u = standardUncertainty >= 0 ? standardUncertainty : NaN;
  return formatQuantity({ value, standardUncertainty: u, unit }, {
    form: "plus-minus",
  });
}

/** The true value, to the digits that its tolerance leaves. */
export function truthText({ truth, tolerance, unit }: AnswerMark): string {
  const quantity = { value: truth, standardUncertainty: tolerance, unit };
  return formatQuantity(quantity, { form: "plus-minus" }).replace(
    /^\((.*) ± .*?\) (.*), k = .*$/,
    "$1 $2",
  );
}

/** Names of the questions of a class. */
export function questionNames(
  marks: readonly { readonly answers: Readonly<Record<string, unknown>> }[],
): string[] {
  return [...new Set(marks.flatMap(({ answers }) => Object.keys(answers)))];
}
