import type { Report, ReportRow, Result, Warning } from "../result/mod.ts";
import { formatNumber } from "./format_number.ts";
import { formatQuantity } from "./format_quantity.ts";
import { reportOf } from "./report_of.ts";

/** One row in words, ready for any printer. */
export interface ShownRow {
  /** What it is. */
  readonly label: string;
  /** Value with unit and uncertainty, in words. */
  readonly text: string;
  /** A short remark; empty where there is none. */
  readonly note: string;
}

/**
 * A report in words: what a person sees, the same in every printer. Nothing is
 * escaped yet; that is the work of each printer.
 */
export interface ShownReport {
  /** Title of the report. */
  readonly title: string;
  /** The main numbers, `(value ± U) unit, k = …`; the note has the other form. */
  readonly headlines: readonly ShownRow[];
  /** Further rows in reading order. */
  readonly rows: readonly ShownRow[];
  /** Why to read the result with care. */
  readonly warnings: readonly Warning[];
  /** Names and captions of the figures. */
  readonly figures: readonly {
    readonly name: string;
    readonly caption: string;
  }[];
  /** How it was computed. */
  readonly method: string;
  /** Function, version and captures; one line each. */
  readonly provenance: readonly string[];
}

/**
 * Puts the report of a result in words. Every printer starts here and adds or
 * leaves out nothing.
 *
 * @param result A result.
 * @param report Its neutral report, where the caller has it already.
 * @returns The report in words.
 */
export function shownReport(
  result: Result,
  report: Report = reportOf(result),
): ShownReport {
  return {
    title: report.title,
    headlines: report.headlines.map((headline) => ({
      label: headline.label,
      text: formatQuantity(headline, { form: "plus-minus" }),
      note: Number.isFinite(headline.value) &&
          headline.standardUncertainty > 0 &&
          Number.isFinite(headline.standardUncertainty)
        ? formatQuantity(headline)
        : "",
    })),
    rows: report.rows.map((row) => ({
      label: row.label,
      text: rowText(row),
      note: row.note ?? "",
    })),
    warnings: result.warnings,
    figures: report.figures.map(({ name, caption }) => ({ name, caption })),
    method: report.method,
    provenance: provenanceLines(result),
  };
}

function rowText(row: ReportRow): string {
  const { value, unit = "", standardUncertainty } = row;
  if (value === null) return "not determined";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "string") return unit ? `${value} ${unit}` : value;
  if (Number.isNaN(value)) return "not determined";
  // Ratios are not worth more than three digits.
  const digits = unit === "dB" || unit === "%" ? 3 : 5;
  return standardUncertainty === undefined
    ? formatNumber(value, { unit, digits })
    : formatQuantity({ value, standardUncertainty, unit });
}

function provenanceLines({ provenance }: Result): string[] {
  const { method, libraryVersion, captures, sources } = provenance;
  return [
    `Computed by ${method}(), Fringebook ${libraryVersion}`,
    ...captureLines(captures),
    ...sources.map((source) => `Source: ${source}`),
  ];
}

/** Equal lines, as of captures made in memory, become one with their number. */
function captureLines(captures: Result["provenance"]["captures"]): string[] {
  const counts = new Map<string, number>();
  for (const { fileName, sha256 } of captures) {
    const line = `Capture ${fileName ?? "made in memory"}` +
      (sha256 !== null
        ? ` (SHA-256 ${sha256.slice(0, 16)}…)`
        : fileName === null
        ? ""
        : " (not hashed)");
    counts.set(line, (counts.get(line) ?? 0) + 1);
  }
  return [...counts].map(([line, count]) =>
    count === 1 ? line : `${line}, ${count} times`
  );
}

/** The mark of a warning in front of its message. */
export function warningMark(warning: Warning): string {
  return warning.severity === "doubtful" ? "Doubtful" : "Note";
}
