import type { Result } from "../result/mod.ts";
import { reportOf } from "./report_of.ts";
import { type ShownReport, shownReport } from "./shown_report.ts";

/**
 * The report as data for other programs: the rows in words, and beside each its
 * number in SI units. NaN and infinities are the strings `"NaN"`,
 * `"Infinity"`, `"-Infinity"`, as JSON has no such numbers.
 *
 * @param result A result.
 * @returns A value that `JSON.stringify` writes without loss.
 */
export function printJson(result: Result): Record<string, unknown> {
  const report = reportOf(result);
  const shown: ShownReport = shownReport(result, report);
  return {
    kind: result.kind,
    title: shown.title,
    headlines: report.headlines.map((headline, index) => ({
      label: headline.label,
      text: shown.headlines[index]?.text ?? "",
      note: shown.headlines[index]?.note ?? "",
      value: plain(headline.value),
      standardUncertainty: plain(headline.standardUncertainty),
      coverageFactor: plain(headline.coverageFactor),
      unit: headline.unit,
    })),
    rows: report.rows.map((row, index) => ({
      label: row.label,
      text: shown.rows[index]?.text ?? "",
      note: shown.rows[index]?.note ?? "",
      value: plain(row.value),
      standardUncertainty: plain(row.standardUncertainty ?? null),
      unit: row.unit ?? "",
    })),
    warnings: shown.warnings.map(({ code, severity, message }) => ({
      code,
      severity,
      message,
    })),
    figures: shown.figures,
    method: shown.method,
    provenance: result.provenance,
  };
}

function plain<T>(value: T): T | string {
  return typeof value === "number" && !Number.isFinite(value)
    ? String(value)
    : value;
}
