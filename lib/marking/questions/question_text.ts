import { formatQuantity } from "../../display/mod.ts";
import { cellTags, joinText, type Notebook } from "../../notebook/mod.ts";
import { createCell } from "../../notebook/mod.ts";
import { allowanceOf } from "./allowance.ts";
import { maximumOf, type Question } from "./question.ts";
import type { RightAnswer } from "./bench_values.ts";
import type { Criterion } from "./read_questions.ts";

/** What an assignment asks for. */
export interface AskedFor {
  readonly questions: readonly Question[];
  /** What is marked by hand. */
  readonly criteria: readonly Criterion[];
}

/** Begin of the tag of a Markdown cell that holds the text of a question. */
const tagBegin = "question:";

/** A question as a student reads it, in Markdown. */
export function questionText(question: Question): string {
  const { name, kind, text, unit, choices } = question;
  const lines = kind === "choice"
    ? Object.entries(choices).map(([letter, choice]) =>
      `- **${letter}**: ${choice}`
    )
    : [];
  const how = kind === "choice"
    ? `\`recordChoice("${name}", "…")\``
    : unit === "1"
    ? `\`recordAnswer("${name}", …)\`, a number without unit: \`unit: "1"\``
    : `\`recordAnswer("${name}", …)\`, in ${unit} or with a prefix`;
  return [
    text,
    ...(lines.length > 0 ? ["", ...lines] : []),
    "",
    `*${pointsText(question)}. Answer with ${how}.*`,
  ].join("\n").trimStart();
}

/** "4 points: value 2, sensible uncertainty 1, error covered by it 1". */
export function pointsText(question: Question): string {
  const { value, uncertainty, coverage } = question.points;
  const maximum = maximumOf(question);
  const whole = `${maximum} ${maximum === 1 ? "point" : "points"}`;
  return uncertainty + coverage === 0 ? whole : `${whole}: value ${value}, ${
    [
      ...(uncertainty > 0 ? [`sensible uncertainty ${uncertainty}`] : []),
      ...(coverage > 0 ? [`error covered by it ${coverage}`] : []),
    ].join(", ")
  }`;
}

/** The right answer as a person reads it. */
export function rightText(
  { kind, truth: formula, choices, unit, tolerance }: Question,
  right: RightAnswer | null,
): string {
  if (kind === "choice") return `${formula}: ${choices[formula]}`;
  if (right === null) return formula;
  const { truth, expandedUncertainty } = right;
  const within = allowanceOf(tolerance, unit, truth) ?? NaN;
  // Shown to a tenth of the tolerance
  const value = formatQuantity({
    value: truth,
    standardUncertainty: within / 10,
    unit,
  }, { form: "plus-minus" }).replace(/^\((.*) ± .*?\) ?(.*), k = .*$/, "$1 $2")
    .trim();
  return `${value}, right within ${tolerance}${
    expandedUncertainty > 0
      ? ` and the U of the accepted value, ${
        formatQuantity({
          value: truth,
          standardUncertainty: expandedUncertainty / 2,
          unit,
        }, { form: "plus-minus" })
      }`
      : ""
  }`;
}

/** The rubric as a table: what earns how many points, in Markdown. */
export function rubricText(
  questions: readonly Question[],
  criteria: readonly Criterion[],
): string {
  const line = (...cells: readonly (string | number)[]) =>
    `| ${
      cells.map((cell) => String(cell).replace(/\s*[|\n]\s*/g, " ")).join(" | ")
    } |`;
  const rows = [
    ...questions.map((question) => {
      const { name, tolerance, kind } = question;
      const what = kind === "choice"
        ? "the right choice"
        : `within ${tolerance}`;
      return line(
        name,
        `${what}; ${pointsText(question)}`,
        maximumOf(question),
      );
    }),
    ...criteria.map(({ name, text, points }) => line(name, text, points)),
  ];
  const sum = [
    ...questions.map(maximumOf),
    ...criteria.map(({ points }) => points),
  ].reduce((all, points) => all + points, 0);
  return [
    "## How it is marked",
    "",
    line("what", "for", "points"),
    line("---", "---", "---:"),
    ...rows,
    line("**all**", "", `**${sum}**`),
    "",
    "An uncertainty counts only with a right value: it is sensible within a factor of five of what careful work reaches, and covers the error where ± 2*u* does.",
  ].join("\n");
}

/** Names of questions whose text stands in no cell of the notebook. */
export function untaggedQuestions(
  notebook: Notebook,
  questions: readonly Question[],
): string[] {
  const tags = new Set(notebook.cells.flatMap(cellTags));
  return questions.filter(({ text }) => text !== "")
    .map(({ name }) => name).filter((name) => !tags.has(tagBegin + name));
}

/**
 * Puts the texts of the questions into the Markdown cells tagged
 * `question:NAME`, the rubric into one tagged `rubric`, and for the teacher a
 * model answer behind each question.
 *
 * @param notebook Is changed.
 * @param askedFor Questions and criteria.
 * @param rightOf The right answer for the teacher's copy; `null` for students.
 * @throws {TypeError} If a cell is tagged with a question that there is not.
 */
export function fillQuestions(
  notebook: Notebook,
  { questions, criteria }: AskedFor,
  rightOf: ((question: Question) => RightAnswer | null) | null,
): void {
  notebook.cells = notebook.cells.flatMap((cell) => {
    if (cellTags(cell).includes("rubric")) {
      return [{ ...cell, source: rubricText(questions, criteria) }];
    }
    const tag = cellTags(cell).find((tag) => tag.startsWith(tagBegin));
    if (tag === undefined) return [cell];
    const name = tag.slice(tagBegin.length).trim();
    const question = questions.find((each) => each.name === name);
    if (question === undefined) {
      throw new TypeError(
        `Cannot fill in the notebook as a cell is tagged '${tag}' and there is no such question: there are ${
          questions.map(({ name }) => name).join(", ")
        }`,
      );
    }
    const asked = { ...cell, source: questionText(question) };
    if (joinText(asked.source) === "" || rightOf === null) return [asked];
    const answer = `> **Model answer.** ${
      rightText(question, rightOf(question))
    }.${question.solution === "" ? "" : ` ${question.solution}`}`;
    return [
      asked,
      createCell("markdown", answer, { tags: ["teacher"] }),
    ];
  });
}
