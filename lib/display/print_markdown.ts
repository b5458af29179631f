import { escapeMarkdown } from "./escape.ts";
import { type ShownReport, warningMark } from "./shown_report.ts";

/**
 * Prints a report as Markdown: a heading, the warnings, one table, the method.
 *
 * @param report The report in words.
 * @returns Markdown, without a final new line.
 */
export function printMarkdown(report: ShownReport): string {
  const e = escapeMarkdown;
  const blocks = [`**${e(report.title)}**`];
  for (const warning of report.warnings) {
    blocks.push(
      `> **${warningMark(warning)}** (${e(warning.code)}): ${
        e(warning.message)
      }`,
    );
  }
  const rows = [
    ...report.headlines.map(({ label, text, note }) =>
      `| **${e(label)}** | **${e(text)}** | ${e(note)} |`
    ),
    ...report.rows.map(({ label, text, note }) =>
      `| ${e(label)} | ${e(text)} | ${e(note)} |`
    ),
  ];
  if (rows.length > 0) {
    blocks.push(["| | value | |", "|:--|:--|:--|", ...rows].join("\n"));
  }
  for (const { name, caption } of report.figures) {
    blocks.push(`Figure "${e(name)}": ${e(caption)}`);
  }
  if (report.method !== "") blocks.push(e(report.method));
  blocks.push(report.provenance.map((line) => `- ${e(line)}`).join("\n"));
  return blocks.join("\n\n");
}
