import { reportMimeType } from "../../display/mod.ts";
import type { Notebook } from "../../notebook/mod.ts";

/** A result that a notebook compared with the truth. */
export interface ComparedResult {
  /** What was measured. */
  readonly label: string;
  /** The measured value with its uncertainty, in words. */
  readonly measured: string;
  /** The truth, in words. */
  readonly truth: string;
  /** Whether they agree within the expanded uncertainty. */
  readonly agrees: boolean;
}

interface ReportData {
  readonly kind: string;
  readonly headlines: readonly { label: string; text: string }[];
  readonly rows: readonly { label: string; text: string; value: unknown }[];
}

/**
 * Finds the comparisons with the truth among the outputs of an executed
 * notebook.
 *
 * @param notebook The executed notebook.
 * @returns The comparisons, in order.
 */
export function comparedResults(notebook: Notebook): ComparedResult[] {
  return notebook.cells
    .flatMap(({ outputs = [] }) => outputs)
    .flatMap((output) => {
      const data = output["data"] as Record<string, unknown> | undefined;
      const report = data?.[reportMimeType] as ReportData | undefined;
      return report?.kind === "course.comparison" ? [report] : [];
    })
    .map(({ headlines, rows }) => {
      const [headline] = headlines;
      const truth = rows.find(({ label }) => label.startsWith("truth"));
      const ratio = rows.find(({ label }) => label.startsWith("|error|"));
      return {
        label: (headline?.label ?? "").replace(/^measured /, ""),
        measured: headline?.text ?? "",
        truth: truth?.text ?? "",
        agrees: Number(ratio?.value) <= 1,
      };
    });
}
