import {
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
  requireRecords,
} from "../options/mod.ts";
import {
  createResult,
  type Provenance,
  provenance,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { type BatchGroup, batchGroups } from "./batch_group.ts";
import { type BatchRow, batchRows, reportWarnings } from "./batch_rows.ts";
import type { FileOutcome } from "./file_outcome.ts";
import type { BatchConflict } from "./join_outcomes.ts";
import type { Batch } from "./read_batch.ts";

/** Options of {@linkcode summariseBatch}. */
export interface SummariseBatchOptions {
  /**
   * Modified z-score (1) above which a value stands apart from the others of
   * its kind.
   *
   * @default {3.5}
   */
  outlierThreshold?: number;
}

export const summarySpec = {
  outlierThreshold: optional(
    optionOf.positive(
      "Modified z-score (1) above which a value stands apart from the others of its kind.",
    ),
    3.5,
  ),
} satisfies Record<keyof SummariseBatchOptions, Option>;

/** A warning and how many captures carry it. */
export interface BatchWarningCount {
  /** Code of the warning. */
  readonly code: string;
  /** Whether it calls a result doubtful. */
  readonly doubtful: boolean;
  /** Captures with it. */
  readonly count: number;
}

/** What a batch of captures gave. */
export interface BatchSummary {
  /** Kind of the result, by which it is shown. */
  readonly kind: "batch.summary";
  /** Captures in the batch. */
  readonly fileCount: number;
  /** Captures that gave numbers. */
  readonly measuredCount: number;
  /** Measured captures with a result that is called doubtful. */
  readonly doubtfulCount: number;
  /** Captures that gave none, and why. */
  readonly failures: readonly {
    readonly file: string;
    readonly name: string;
    readonly message: string;
  }[];
  /** One group per quantity. */
  readonly groups: readonly BatchGroup[];
  /** All warnings, the most frequent first. */
  readonly warningCounts: readonly BatchWarningCount[];
  /** Doubts, each with a code and a sentence. */
  readonly warnings: readonly Warning[];
  /** Where the result comes from. */
  readonly provenance: Provenance;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Every number of every capture. */
    readonly rows: readonly BatchRow[];
  };
}

/**
 * Sums a batch up: what was measured, median and scatter of each quantity
 * beside the stated uncertainty, which captures stand apart, which failed and
 * why, which warnings were given how often.
 *
 * @param batch The outcomes, from `readBatch`.
 * @param options Threshold for values that stand apart.
 * @returns The summary.
 * @throws {RangeError} If the threshold is not positive.
 *
 * @example
 * ```ts
 * import { summariseBatch } from "fringebook";
 * import { expect } from "vitest";
 *
 * const summary = summariseBatch({
 *   fileName: "batch.jsonl",
 *   sha256: null,
 *   outcomes: [{
 *     file: "a.wav",
 *     status: "failed",
 *     measurement: null,
 *     reason: null,
 *     reports: [],
 *     error: { name: "NotFound", message: "no such file" },
 *   }],
 *   brokenLines: [],
 * });
 * expect(summary.failures[0]?.file).toBe("a.wav");
 * ```
 */
export function summariseBatch(
  batch: Batch,
  options: SummariseBatchOptions = {},
): BatchSummary & Shown {
  const task = "sum up a batch";
  requireFields(batch, "batch", ["outcomes"], task);
  requireRecords(batch.outcomes, "batch.outcomes", ["file"], task);
  const { outlierThreshold } = readOptions(summarySpec, options, task);
  const { outcomes, brokenLines, conflicts = [] } = batch;
  const measured = outcomes.filter(({ status }) => status === "measured");
  const failures = outcomes.filter(({ status }) => status === "failed")
    .map(({ file, error }) => ({
      file,
      name: error?.name ?? "Error",
      message: error?.message ?? "no reason was written down",
    }));
  const doubtfulCount =
    measured.filter(({ reports }) =>
      reports.some((report) =>
        reportWarnings(report).some(({ severity }) => severity === "doubtful")
      )
    ).length;
  const rows = batchRows(measured);
  const groups = batchGroups(rows, outlierThreshold);
  return createResult({
    kind: "batch.summary" as const,
    fileCount: outcomes.length,
    measuredCount: measured.length,
    doubtfulCount,
    failures,
    groups,
    warningCounts: countWarnings(measured.map(({ reports }) => reports)),
    warnings: warningsOf(
      outcomes.length,
      failures.length,
      doubtfulCount,
      groups,
      brokenLines,
      settingsOf(measured),
      conflicts,
    ),
    provenance: provenance({
      method: "summariseBatch",
      captures: [batch],
      options: { outlierThreshold },
      sources: ["Iglewicz and Hoaglin 1993, modified z-score"],
    }),
    diagnostics: { rows },
  });
}

function countWarnings(
  files: readonly (readonly unknown[])[],
): BatchWarningCount[] {
  const counts = new Map<string, { doubtful: boolean; count: number }>();
  for (const reports of files) {
    const seen = new Map<string, boolean>();
    for (const { code, severity } of reports.flatMap(reportWarnings)) {
      seen.set(code, seen.get(code) || severity === "doubtful");
    }
    for (const [code, doubtful] of seen) {
      const before = counts.get(code);
      counts.set(code, {
        doubtful: doubtful || (before?.doubtful ?? false),
        count: (before?.count ?? 0) + 1,
      });
    }
  }
  return [...counts].map(([code, rest]) => ({ code, ...rest }))
    .sort((a, b) => b.count - a.count || (a.code < b.code ? -1 : 1));
}

/** The ways in which captures were measured, each once. */
function settingsOf(
  outcomes: readonly FileOutcome[],
): Readonly<Record<string, unknown>>[] {
  const ways = new Map(
    outcomes.flatMap(({ settings }) =>
      settings ? [[JSON.stringify(settings), settings] as const] : []
    ),
  );
  return [...ways.values()];
}

function warningsOf(
  fileCount: number,
  failedCount: number,
  doubtfulCount: number,
  groups: readonly BatchGroup[],
  brokenLines: readonly number[],
  settings: readonly Readonly<Record<string, unknown>>[],
  conflicts: readonly BatchConflict[],
): Warning[] {
  const warnings: Warning[] = [];
  if (failedCount > 0) {
    warnings.push(warn(
      "failed-captures",
      `${failedCount} of ${fileCount} captures gave no number: the reasons stand with the failures`,
    ));
  }
  if (doubtfulCount > 0) {
    warnings.push(warn(
      "doubtful-captures",
      `${doubtfulCount} of ${fileCount} captures have a doubtful result: read their warnings before using them`,
    ));
  }
  if (settings.length > 1) {
    const names = Object.keys(settings[0]!).filter((name) =>
      new Set(settings.map((each) => JSON.stringify(each[name]))).size > 1
    );
    warnings.push(warn(
      "mixed-settings",
      `The captures were measured in ${settings.length} ways, with other values of ${
        names.join(", ")
      }: their numbers do not belong together. Measure all of them in one way`,
    ));
  }
  if (conflicts.length > 0) {
    const some = conflicts.slice(0, 5).map(({ file, in: files, differs }) =>
      `'${file}' in ${files.join(" and ")} (${differs.join(", ")})`
    );
    warnings.push(warn(
      "conflicts",
      `${conflicts.length} captures stand in two files with other results, of which the later file counts: ${
        some.join("; ")
      }${conflicts.length > 5 ? " …" : ""}`,
    ));
  }
  const apart = new Set(groups.flatMap(({ outliers }) => outliers));
  if (apart.size > 0) {
    warnings.push(warn(
      "outliers",
      `${apart.size} captures stand apart from the others of their kind: ${
        [...apart].slice(0, 5).join(", ")
      }${apart.size > 5 ? " …" : ""}`,
      "note",
    ));
  }
  if (brokenLines.length > 0) {
    warnings.push(warn(
      "broken-lines",
      `${brokenLines.length} lines hold no outcome, the first is line ${
        brokenLines[0]
      }: run the measurement again with the same --output`,
    ));
  }
  return warnings;
}
