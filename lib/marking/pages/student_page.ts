import { escapeHtml } from "../../display/mod.ts";
import type { HandInMark } from "../grade_class.ts";
import { pageFrame } from "./frame.ts";
import { givenText, handText, truthText } from "./plain.ts";

/**
 * The page of one student: each answer beside the truth of the own capture, its
 * points with reasons, and a hint where the cause is known. What the teacher
 * alone should see (notes on copies) is not on it.
 *
 * @param mark Mark of the student.
 * @param title Title of the assignment.
 * @returns HTML that needs nothing else.
 */
export function studentPage(mark: HandInMark, title: string): string {
  const rows = Object.entries(mark.answers).map(([name, answer]) => {
    const cells = [
      givenText(answer),
      truthText(answer),
      `${answer.points} of ${answer.maximum}`,
      answer.reasons.join("; "),
      answer.hint ?? "",
    ].map((text) => `<td>${escapeHtml(text)}</td>`);
    return `<tr><th scope="row">${escapeHtml(name)}</th>${cells.join("")}</tr>`;
  });
  for (const [name, by] of Object.entries(mark.byHand)) {
    rows.push(
      `<tr><th scope="row">${escapeHtml(name)}</th><td></td><td></td><td>${
        handText(by)
      }</td><td>by hand</td><td></td></tr>`,
    );
  }
  const heads = ["question", "answer", "truth", "points", "why", "hint"]
    .map((text) => `<th scope="col">${text}</th>`).join("");
  return pageFrame(
    `${title}: ${mark.student}`,
    `<h1>${escapeHtml(title)}: ${escapeHtml(mark.student)}</h1>
<p>${mark.points} of ${mark.maximum} points. ${escapeHtml(mark.run)}.</p>
<table>
<thead><tr>${heads}</tr></thead>
<tbody>
${rows.join("\n")}
</tbody>
</table>`,
  );
}
