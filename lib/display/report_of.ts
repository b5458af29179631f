import {
  type Presenter,
  presenterFor,
  type Report,
  type ReportHeadline,
  type ReportRow,
  type Result,
  type ResultInput,
} from "../result/mod.ts";
import { formatNumber } from "./format_number.ts";
import { formatQuantity } from "./format_quantity.ts";

/**
 * The neutral report of a result: from the presenter of its kind, or a generic
 * one. Never throws: where a presenter fails, the generic report takes its
 * place and says so.
 *
 * @param result A result.
 * @returns Its report.
 */
export function reportOf(result: Result): Report {
  const report = ownReport(result);
  const rows = inputRows(result.provenance?.inputs ?? []);
  return rows.length === 0
    ? report
    : { ...report, rows: [...report.rows, ...rows] };
}

/** What the result rests on, and what of it nobody stated an uncertainty of. */
function inputRows(inputs: readonly ResultInput[]): ReportRow[] {
  if (inputs.length === 0) return [];
  const exact = inputs.filter(({ standardUncertainty }) =>
    standardUncertainty === null
  );
  return [
    {
      label: "rests on",
      value: inputs.map((input) =>
        `${input.label} ${inputText(input)} (${input.origin})`
      ).join(", "),
    },
    ...(exact.length === 0 ? [] : [{
      label: "taken as exact",
      value: exact.map(({ label }) => label).join(", "),
    }]),
  ];
}

function inputText(
  { value, unit, standardUncertainty }: ResultInput,
): string {
  if (unit === "rad") {
    // A person sets an angle in degrees.
    const degrees = (radians: number, digits: number) =>
      Number((radians * 180 / Math.PI).toPrecision(digits));
    return standardUncertainty === null
      ? `${degrees(value, 7)}°`
      : `${degrees(value, 7)}° (u = ${degrees(standardUncertainty, 2)}°)`;
  }
  return standardUncertainty === null
    ? formatNumber(value, { unit: unit === "1" ? "" : unit, digits: 7 })
    : formatQuantity({ value, standardUncertainty, unit });
}

function ownReport(result: Result): Report {
  const presenter: Presenter<Result> | null = presenterFor(result.kind);
  if (presenter === null) return genericReport(result);
  try {
    return presenter.report(result);
  } catch (error) {
    const report = genericReport(result);
    return {
      ...report,
      rows: [...report.rows, {
        label: "display",
        value: `the report of '${result.kind}' could not be made: ${
          error instanceof Error ? error.message : String(error)
        }`,
      }],
    };
  }
}

/** Fields that a report shows elsewhere, or not at all. */
const formFields = new Set(["kind", "warnings", "provenance", "diagnostics"]);

/**
 * A report of any result: its quantities as headlines, its numbers and short
 * texts as rows.
 *
 * @param result A result of any kind.
 * @returns The report; without figures.
 */
export function genericReport(result: Result): Report {
  const headlines: ReportHeadline[] = [];
  const rows: ReportRow[] = [];
  for (const [key, value] of Object.entries(result)) {
    if (formFields.has(key)) continue;
    const label = words(key);
    if (isQuantityLike(value)) headlines.push({ label, ...value });
    else rows.push({ label, value: summary(value) });
  }
  const [room = "", concept = ""] = String(result.kind).split(".");
  return {
    title: sentence(words(concept === "" ? room : concept)),
    headlines,
    rows,
    figures: [],
    method: "",
  };
}

/** Whether a value has the fields of a `Quantity`. */
export function isQuantityLike(value: unknown): value is {
  value: number;
  unit: string;
  standardUncertainty: number;
  coverageFactor: number;
} {
  if (typeof value !== "object" || value === null) return false;
  const { value: estimate, unit, standardUncertainty, coverageFactor } =
    value as Record<string, unknown>;
  return typeof estimate === "number" && typeof unit === "string" &&
    typeof standardUncertainty === "number" &&
    typeof coverageFactor === "number";
}

/** `"samplingRate"` becomes `"sampling rate"`. */
export function words(name: string): string {
  return name.replace(/([a-z0-9])([A-Z])/g, "$1 $2").replace(/[-_]+/g, " ")
    .toLowerCase();
}

/** First letter in upper case. */
export function sentence(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}

function summary(value: unknown): number | string | boolean | null {
  if (value === null || value === undefined) return null;
  if (typeof value === "number" || typeof value === "boolean") return value;
  if (typeof value === "string") return value;
  if (Array.isArray(value) || ArrayBuffer.isView(value)) {
    const { length } = value as unknown as ArrayLike<unknown>;
    return `${length} ${length === 1 ? "entry" : "entries"}`;
  }
  if (typeof value === "object") {
    const names = Object.keys(value);
    return names.length === 0 ? "empty" : names.map(words).join(", ");
  }
  return typeof value;
}
