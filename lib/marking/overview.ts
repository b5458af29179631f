import { stringify } from "@std/csv/stringify";
import { escapeHtml } from "../display/mod.ts";
import type { HandInMark } from "./mark_folder.ts";

/**
 * The marks as comma-separated text: a row per student, points and reasons per
 * question.
 *
 * @param marks Marks of a class.
 * @returns CSV (RFC 4180) with a head line.
 */
export function marksTable(marks: readonly HandInMark[]): string {
  const questions = questionNames(marks);
  const head = [
    "student",
    "points",
    "maximum",
    "ran to the end",
    "run",
    "processor time (s)",
    ...questions.flatMap((name) => [`${name}: points`, `${name}: reasons`]),
  ];
  const rows = marks.map((mark) => [
    plain(mark.student),
    mark.points,
    mark.maximum,
    mark.complete ? "yes" : "no",
    plain(mark.run),
    mark.cpuTime.toFixed(1),
    ...questions.flatMap((name) => {
      const answer = mark.answers[name];
      return [answer?.points ?? 0, plain(answer?.reasons.join("; ") ?? "")];
    }),
  ]);
  return stringify([head, ...rows], { crlf: true });
}

/**
 * The overview of a class as a page: points per student and question, and how
 * often each question was solved.
 *
 * @param marks Marks of a class.
 * @param title Title of the page.
 * @returns HTML that needs nothing else.
 */
export function classOverview(
  marks: readonly HandInMark[],
  title: string,
): string {
  const questions = questionNames(marks);
  const cell = (text: string | number) =>
    `<td>${escapeHtml(String(text))}</td>`;
  const head = ["student", "points", ...questions, "run", "processor time"]
    .map((text) => `<th scope="col">${escapeHtml(text)}</th>`).join("");
  const rows = marks.map((mark) => {
    const answers = questions.map((name) => {
      const { points, reasons } = mark.answers[name] ??
        { points: 0, reasons: [] };
      return `<td><b>${points}</b><br><small>${
        escapeHtml(reasons.join("; "))
      }</small></td>`;
    });
    return `<tr><th scope="row">${escapeHtml(mark.student)}</th>${
      cell(`${mark.points} of ${mark.maximum}`)
    }${answers.join("")}${cell(mark.run)}${
      cell(`${mark.cpuTime.toFixed(1)} s`)
    }</tr>`;
  });
  const means = questions.map((name) => {
    const sum = marks.reduce(
      (total, { answers }) => total + (answers[name]?.points ?? 0),
      0,
    );
    return `<li>${escapeHtml(name)}: ${
      (sum / Math.max(1, marks.length)).toFixed(1)
    } points on average</li>`;
  });
  const complete = marks.filter((mark) => mark.complete).length;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>${escapeHtml(title)}</title>
<style>
:root { color-scheme: light dark; }
body { font: 1rem/1.5 system-ui, sans-serif; margin: 2rem; }
table { border-collapse: collapse; }
th, td { text-align: left; padding: 0.35rem 0.75rem; border-bottom: 1px solid #8884; vertical-align: top; }
</style>
</head>
<body>
<main>
<h1>${escapeHtml(title)}</h1>
<p>${marks.length} hand-ins, ${complete} ran to the end.</p>
<ul>${means.join("")}</ul>
<table>
<thead><tr>${head}</tr></thead>
<tbody>
${rows.join("\n")}
</tbody>
</table>
</main>
</body>
</html>
`;
}

function questionNames(marks: readonly HandInMark[]): string[] {
  return [...new Set(marks.flatMap(({ answers }) => Object.keys(answers)))];
}

/** A text that no spreadsheet takes for a formula. */
function plain(text: string): string {
  return /^[=+\-@\t\r]/.test(text) ? `'${text}` : text;
}
