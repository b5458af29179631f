import { nearestName } from "../../options/mod.ts";
import { evaluateFormula, type FormulaNames } from "./formula.ts";
import type { Question } from "./question.ts";

/** What is known and what is true of one capture. */
export interface CaptureValues {
  /** Values that a person at the bench knows, in SI units. */
  readonly known: Readonly<Record<string, { readonly value: number }>>;
  /** True or accepted values, in SI units, with their U (k = 2). */
  readonly truth: Readonly<
    Record<
      string,
      { readonly value: number; readonly expandedUncertainty: number }
    >
  >;
}

/** The right answer to a question, for one student. */
export interface RightAnswer {
  /** The true or accepted value, in the unit of the question. */
  readonly truth: number;
  /** Its expanded uncertainty (k = 2); 0 where it is true by making. */
  readonly expandedUncertainty: number;
  /** What the formulas of the mistakes may use, without `truth` itself. */
  readonly names: FormulaNames;
}

/**
 * The right answer to a question about numbers, from the values of a student's
 * capture: `known.NAME` is what stands in `bench.json`, `true.NAME` what is true
 * or accepted.
 *
 * @param question The question.
 * @param captures Values of the student's captures, by name.
 * @returns Truth, its uncertainty, and the names for formulas.
 * @throws {TypeError} If there is no such capture, or the truth is no number.
 * @throws {SyntaxError} If a formula cannot be read.
 */
export function rightAnswer(
  question: Question,
  captures: Readonly<Record<string, CaptureValues>>,
): RightAnswer {
  const { name, capture, truth: formula, mistakes } = question;
  if (capture !== "" && !Object.hasOwn(captures, capture)) {
    const there = Object.keys(captures);
    const near = nearestName(capture, there);
    throw new TypeError(
      `Cannot use the question '${name}' as there is no capture '${capture}'${
        near === null ? "." : `: '${near}' was meant?`
      } The captures are ${there.join(", ") || "none: give a bench"}`,
    );
  }
  const { known = {}, truth = {} } = capture === "" ? {} : captures[capture]!;
  const names: Record<string, number> = {};
  for (const [key, { value }] of Object.entries(known)) {
    names[`known.${key}`] = value;
  }
  for (const [key, { value }] of Object.entries(truth)) {
    names[`true.${key}`] = value;
  }
  const value = evaluateFormula(formula, names);
  if (!Number.isFinite(value)) {
    throw new TypeError(
      `Cannot use the question '${name}' as its truth '${formula}' comes out as ${value}`,
    );
  }
  // What each accepted value adds, to first order (JCGM 100:2008, 5.1.2)
  const shares = Object.entries(truth).map(([key, accepted]) => {
    if (accepted.expandedUncertainty === 0) return 0;
    const moved = accepted.value + accepted.expandedUncertainty;
    return evaluateFormula(formula, { ...names, [`true.${key}`]: moved }) -
      value;
  });
  // A formula that cannot be read is found now, not when the class is marked
  for (const mistake of mistakes) {
    evaluateFormula(mistake.value, { ...names, truth: value });
  }
  return { truth: value, expandedUncertainty: Math.hypot(...shares), names };
}
