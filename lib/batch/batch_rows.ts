import type { FileOutcome } from "./file_outcome.ts";

/** One measured number of one capture. */
export interface BatchRow {
  /** Path of the capture as given. */
  readonly file: string;
  /** What the capture was measured as. */
  readonly measurement: string;
  /** Kind of the result, such as `"speed.doppler"`. */
  readonly kind: string;
  /** What was measured, such as `"distance"`. */
  readonly name: string;
  /** The estimate, in `unit`. */
  readonly value: number;
  /** Standard uncertainty, in `unit`; `NaN` where not determined. */
  readonly standardUncertainty: number;
  /** SI unit symbol without prefix. */
  readonly unit: string;
  /** Whether a warning calls the number doubtful. */
  readonly doubtful: boolean;
  /** Codes of all warnings of the result. */
  readonly warnings: readonly string[];
}

/** The part of a JSON report that is read here; texts are not trusted. */
interface ReportRead {
  readonly kind?: unknown;
  readonly headlines?: unknown;
  readonly warnings?: unknown;
}

/**
 * The main numbers of measured captures, one row each.
 *
 * @param outcomes Outcomes of a batch.
 * @returns The rows, in the order of the outcomes and of their reports.
 */
export function batchRows(outcomes: readonly FileOutcome[]): BatchRow[] {
  return outcomes.flatMap((outcome) =>
    outcome.reports.flatMap((report) => rowsOf(outcome, report))
  );
}

/** Codes and severities of the warnings of a JSON report. */
export function reportWarnings(
  report: unknown,
): { code: string; severity: string }[] {
  const { warnings } = (report ?? {}) as ReportRead;
  return list(warnings).map(({ code, severity }) => ({
    code: String(code),
    severity: String(severity),
  }));
}

function rowsOf(outcome: FileOutcome, report: unknown): BatchRow[] {
  const { kind, headlines } = (report ?? {}) as ReportRead;
  const warnings = reportWarnings(report);
  return list(headlines).flatMap((headline) => {
    const value = number(headline["value"]);
    if (value === null) return [];
    return [{
      file: outcome.file,
      measurement: outcome.measurement ?? "not known",
      kind: String(kind),
      name: String(headline["label"]),
      value,
      standardUncertainty: number(headline["standardUncertainty"]) ?? NaN,
      unit: String(headline["unit"] ?? ""),
      doubtful: warnings.some(({ severity }) => severity === "doubtful"),
      warnings: warnings.map(({ code }) => code),
    }];
  });
}

function list(value: unknown): Record<string, unknown>[] {
  return Array.isArray(value)
    ? value.filter((item) => typeof item === "object" && item !== null)
    : [];
}

/** JSON has no NaN and no infinities: reports hold their names. */
function number(value: unknown): number | null {
  if (typeof value === "number") return value;
  return value === "NaN" || value === "Infinity" || value === "-Infinity"
    ? Number(value)
    : null;
}
