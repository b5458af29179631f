import { escapeHtml } from "../../display/mod.ts";
import type { HandInMark } from "../grade_class.ts";
import type { AnswerMark } from "../mark_answer.ts";
import type { ClassMarks } from "../mark_folder.ts";
import { pageFrame, sortScript } from "./frame.ts";
import {
  criterionNames,
  givenText,
  handText,
  questionNames,
  truthText,
} from "./plain.ts";

/** Options of {@linkcode classOverview}. */
export interface ClassOverviewOptions {
  /**
   * Address of a student's own page; `null` for no link.
   *
   * @default {() => null}
   */
  pageOf?: (mark: HandInMark) => string | null;
}

/**
 * The overview of a class as a page: answers beside truths, points, hints, notes;
 * how each question went; folders that are missing or not known. Columns sort.
 *
 * @param classMarks Marks of a class.
 * @param title Title of the page.
 * @param options Where the students' pages are.
 * @returns HTML that needs nothing else.
 */
export function classOverview(
  classMarks: ClassMarks,
  title: string,
  options: ClassOverviewOptions = {},
): string {
  const { marks, unknown, missing } = classMarks;
  const { pageOf = () => null } = options;
  const questions = questionNames(marks);
  const criteria = criterionNames(marks);
  const heads = [
    ...["student", "points", ...questions],
    ...criteria.map((name) => `${name} (by hand)`),
    ...["notes", "run"],
  ];
  const head = heads.map((text) =>
    `<th scope="col"><button type="button">${escapeHtml(text)}</button></th>`
  ).join("");
  const complete = marks.filter((mark) => mark.complete).length;
  return pageFrame(
    title,
    `<h1>${escapeHtml(title)}</h1>
<p>${marks.length} hand-ins, ${complete} ran to the end.</p>
<ul>${questions.map((name) => questionItem(name, marks)).join("")}</ul>
${listOf("Without a folder", missing)}
${
      listOf(
        "Folders that the key does not know; they were not marked",
        unknown.map(({ folder, nearest }) =>
          nearest === null ? folder : `${folder} (nearest: ${nearest})`
        ),
      )
    }
<table>
<thead><tr>${head}</tr></thead>
<tbody>
${
      marks.map((mark) =>
        row(mark, { questions, criteria, page: pageOf(mark) })
      )
        .join("\n")
    }
</tbody>
</table>
${sortScript}`,
  );
}

function row(
  mark: HandInMark,
  { questions, criteria, page }: {
    questions: readonly string[];
    criteria: readonly string[];
    page: string | null;
  },
): string {
  const name = escapeHtml(mark.student);
  const cells = [
    `<td data-n="${mark.points}">${mark.points} of ${mark.maximum}</td>`,
    ...questions.map((name) => answerCell(mark.answers[name])),
    ...criteria.map((name) => {
      const by = mark.byHand[name];
      return by === undefined
        ? "<td></td>"
        : `<td data-n="${by.points ?? -1}">${handText(by)}</td>`;
    }),
    `<td>${escapeHtml(mark.notes.join("; "))}</td>`,
    `<td>${escapeHtml(mark.run)} (${
      mark.cpuTime.toFixed(1)
    } s of processor time)</td>`,
  ];
  return `<tr><th scope="row">${
    page === null ? name : `<a href="${escapeHtml(page)}">${name}</a>`
  }</th>${cells.join("")}</tr>`;
}

function answerCell(answer: AnswerMark | undefined): string {
  if (answer === undefined) return "<td></td>";
  const { points, maximum, cause } = answer;
  return `<td data-n="${points}"><b>${points}</b> of ${maximum}<br>${
    escapeHtml(givenText(answer))
  }<br><small>truth ${escapeHtml(truthText(answer))}${
    cause === null ? "" : `; ${escapeHtml(cause)}`
  }</small></td>`;
}

function questionItem(name: string, marks: readonly HandInMark[]): string {
  const answers = marks.flatMap(({ answers }) => answers[name] ?? []);
  const right = answers.filter((answer) => answer.right).length;
  const points = answers.reduce((sum, answer) => sum + answer.points, 0);
  const mean = points / Math.max(1, answers.length);
  return `<li>${escapeHtml(name)}: ${right} of ${marks.length} right, ${
    mean.toFixed(1)
  } points on average</li>`;
}

function listOf(what: string, items: readonly string[]): string {
  return items.length === 0
    ? ""
    : `<p>${what}: ${items.map(escapeHtml).join(", ")}.</p>`;
}
