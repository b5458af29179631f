import { stringify } from "@std/csv/stringify";
import type { HandInMark } from "../grade_class.ts";
import { plain, questionNames } from "./plain.ts";

/**
 * The marks as comma-separated text: a row per student; of each question points,
 * answer, standard uncertainty, truth, hint and reasons.
 *
 * @param marks Marks of a class.
 * @returns CSV (RFC 4180) with a head line.
 */
export function marksTable(marks: readonly HandInMark[]): string {
  const questions = questionNames(marks);
  const unitOf = (name: string) =>
    marks.find(({ answers }) => answers[name])?.answers[name]?.unit ?? "";
  const head = [
    ...["student", "points", "maximum", "ran to the end", "run", "notes"],
    "processor time (s)",
    ...questions.flatMap((name) => [
      `${name}: points`,
      `${name}: answer (${unitOf(name)})`,
      `${name}: standard uncertainty (${unitOf(name)})`,
      `${name}: truth (${unitOf(name)})`,
      `${name}: cause`,
      `${name}: reasons`,
    ]),
  ];
  const number = (value: number | null | undefined) =>
    typeof value === "number" && Number.isFinite(value) ? value : "";
  const rows = marks.map((mark) => [
    plain(mark.student),
    mark.points,
    mark.maximum,
    mark.complete ? "yes" : "no",
    plain(mark.run),
    plain(mark.notes.join("; ")),
    mark.cpuTime.toFixed(1),
    ...questions.flatMap((name) => {
      const answer = mark.answers[name];
      return [
        answer?.points ?? 0,
        number(answer?.value),
        number(answer?.standardUncertainty),
        number(answer?.truth),
        plain(answer?.cause ?? ""),
        plain(answer?.reasons.join("; ") ?? ""),
      ];
    }),
  ]);
  return stringify([head, ...rows], { crlf: true });
}
