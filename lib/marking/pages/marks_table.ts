import { stringify } from "@std/csv/stringify";
import type { HandInMark } from "../grade_class.ts";
import { criterionNames, plain, questionNames } from "./plain.ts";

/**
 * The marks as comma-separated text: a row per student; of each question points,
 * answer, standard uncertainty, truth, hint and reasons.
 *
 * @param marks Marks of a class.
 * @returns CSV (RFC 4180) with a head line.
 */
export function marksTable(marks: readonly HandInMark[]): string {
  const questions = questionNames(marks);
  const criteria = criterionNames(marks);
  const inUnit = (name: string) => {
    const unit = marks.find(({ answers }) => answers[name])?.answers[name]
      ?.unit;
    return unit ? ` (${unit})` : "";
  };
  const head = [
    ...["student", "points", "maximum", "ran to the end", "run", "notes"],
    "processor time (s)",
    ...questions.flatMap((name) => [
      `${name}: points`,
      `${name}: answer${inUnit(name)}`,
      `${name}: standard uncertainty${inUnit(name)}`,
      `${name}: truth${inUnit(name)}`,
      `${name}: cause`,
      `${name}: reasons`,
    ]),
    ...criteria.map((name) => `${name}: points by hand`),
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
        plain(answer?.choice ?? "") || number(answer?.value),
        number(answer?.standardUncertainty),
        plain(answer?.rightChoice ?? "") || number(answer?.truth),
        plain(answer?.cause ?? ""),
        plain(answer?.reasons.join("; ") ?? ""),
      ];
    }),
    ...criteria.map((name) => mark.byHand[name]?.points ?? ""),
  ]);
  return stringify([head, ...rows], { crlf: true });
}
