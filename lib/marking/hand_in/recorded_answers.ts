import { reportMimeType } from "../../display/mod.ts";
import type { Notebook } from "../../notebook/mod.ts";
import type { GivenAnswer } from "../mark_answer.ts";

/** Most answers that are taken from a hand-in. */
const mostAnswers = 200;
/** Longest name of a question or a unit that is taken. */
const longestText = 80;

const noNumber = { value: NaN, standardUncertainty: NaN, unit: "" };

/**
 * The last answer to each question among the outputs of a notebook. What was
 * written by the hand-in itself may be anything: only what has the form of an
 * answer counts.
 *
 * @param notebook The executed notebook.
 * @returns Answers by the name of the question.
 */
export function recordedAnswers(
  notebook: Notebook,
): Map<string, GivenAnswer> {
  const answers = new Map<string, GivenAnswer>();
  for (const { outputs } of notebook.cells) {
    for (const output of Array.isArray(outputs) ? outputs : []) {
      const data = recordOf(recordOf(output)["data"]);
      const report = recordOf(data[reportMimeType]);
      const isChoice = report["kind"] === "course.choice";
      if (!isChoice && report["kind"] !== "course.answer") continue;
      if (isChoice) {
        const { rows } = report;
        const first = recordOf(Array.isArray(rows) ? rows[0] : null);
        const { label, value: choice } = first;
        if (!isShortText(label) || !isShortText(choice)) continue;
        if (answers.size >= mostAnswers && !answers.has(label)) continue;
        answers.set(label, { ...noNumber, choice });
        continue;
      }
      const { headlines } = report;
      const headline = recordOf(Array.isArray(headlines) ? headlines[0] : null);
      const { label, value, standardUncertainty, unit } = headline;
      if (!isShortText(label) || !isShortText(unit)) continue;
      if (typeof value !== "number" || !Number.isFinite(value)) continue;
      if (answers.size >= mostAnswers && !answers.has(label)) continue;
      answers.set(label, {
        value,
        standardUncertainty: typeof standardUncertainty === "number"
          ? standardUncertainty
          : NaN,
        unit,
      });
    }
  }
  return answers;
}

/** The fields of an object that are its own; none of anything else. */
function recordOf(value: unknown): Record<string, unknown> {
  if (typeof value !== "object" || value === null) return {};
  return Object.assign(Object.create(null), value);
}

function isShortText(value: unknown): value is string {
  return typeof value === "string" && value.length <= longestText;
}
