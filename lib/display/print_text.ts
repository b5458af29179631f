import { oneLine } from "./escape.ts";
import {
  type ShownReport,
  type ShownRow,
  warningMark,
} from "./shown_report.ts";

/**
 * Prints a report as aligned plain text without colour codes.
 *
 * @param report The report in words.
 * @returns Several lines, without a final new line.
 */
export function printText(report: ShownReport): string {
  const rows = [...report.headlines, ...report.rows];
  const width = Math.max(0, ...rows.map(({ label }) => oneLine(label).length));
  const line = ({ label, text, note }: ShownRow) =>
    `  ${oneLine(label).padEnd(width)}  ${oneLine(text)}` +
    (note === "" ? "" : `  [${oneLine(note)}]`);
  return [
    oneLine(report.title),
    ...report.warnings.map((warning) =>
      `  ! ${warningMark(warning)} (${oneLine(warning.code)}): ${
        oneLine(warning.message)
      }`
    ),
    ...rows.map(line),
    ...report.figures.map(({ name, caption }) =>
      `  Figure "${oneLine(name)}": ${oneLine(caption)}`
    ),
    ...(report.method === "" ? [] : [`  ${oneLine(report.method)}`]),
    ...report.provenance.map((text) => `  ${oneLine(text)}`),
  ].join("\n");
}
