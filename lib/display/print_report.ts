import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
} from "../options/mod.ts";
import type { Result } from "../result/mod.ts";
import { printHtml } from "./print_html.ts";
import { printJson } from "./print_json.ts";
import { printMarkdown } from "./print_markdown.ts";
import { printText } from "./print_text.ts";
import { shownReport } from "./shown_report.ts";

/** Options of {@linkcode printReport}. */
export interface PrintReportOptions {
  /**
   * The form of the print.
   *
   * @default {"text"}
   */
  format?: "text" | "html" | "markdown" | "json";
}

export const printSpec = {
  format: optional(
    optionOf.choice("The form of the print.", [
      "text",
      "html",
      "markdown",
      "json",
    ]),
    "text",
  ),
} satisfies Record<keyof PrintReportOptions, Option>;

/**
 * Prints the report of a result. All forms have the same rows and the same
 * warnings.
 *
 * @param result A result.
 * @param options The format.
 * @returns The print, without pictures.
 *
 * @example
 * ```ts
 * import { printReport, quantity } from "fringebook";
 * import { createResult, provenance } from "fringebook/result";
 * import { expect } from "vitest";
 *
 * const result = createResult({
 *   kind: "example.length",
 *   length: quantity(0.2, 0.001, "m"),
 *   warnings: [],
 *   provenance: provenance({ method: "example" }),
 *   diagnostics: {},
 * });
 * expect(printReport(result)).toContain("(200.0 ± 2.0) mm, k = 2");
 * ```
 */
export function printReport(
  result: Result,
  options: PrintReportOptions = {},
): string {
  const task = "print a report";
  requireFields(result, "result", ["kind", "provenance"], task);
  const { format } = readOptions(printSpec, options, task);
  switch (format) {
    case "html":
      return printHtml(shownReport(result));
    case "markdown":
      return printMarkdown(shownReport(result));
    case "json":
      return JSON.stringify(printJson(result), null, 2);
    default:
      return printText(shownReport(result));
  }
}
