import { requireFields } from "../options/mod.ts";
import { presenterFor, type Result } from "../result/mod.ts";
import {
  danfojsFromCache,
  fetchLater,
  hasPackageFetcher,
  importFetched,
} from "../runtime/mod.ts";
import { isQuantityLike, reportOf } from "./report_of.ts";
import {
  type Table,
  table,
  type TableOptions,
  type TableRow,
} from "./table.ts";

/** The part of a danfojs data frame that is read here. */
export interface DataFrameLike {
  /** Column names. */
  readonly columns: readonly string[];
  /** Row after row. */
  readonly values: readonly unknown[];
}

/**
 * A result as a danfojs data frame: the rows of its table where it has one,
 * else the rows of its report. Loads danfojs.
 *
 * @param result A result.
 * @returns The data frame.
 */
export async function toDataFrame(result: Result): Promise<unknown> {
  const { DataFrame } = await loadDanfojs();
  return new DataFrame(resultRows(result));
}

/** In a session as it was granted, elsewhere without what it would never run. */
async function loadDanfojs(): Promise<
  { readonly DataFrame: new (rows: unknown) => unknown }
> {
  const own = hasPackageFetcher() || typeof Deno === "undefined"
    ? null
    : await danfojsFromCache(fetchLater);
  // Not a plain text, else the runtime fetches it before anything runs.
  return (own ??
    await importFetched(
      "danfojs",
      () => import(["danfojs"].join()),
    )) as Awaited<ReturnType<typeof loadDanfojs>>;
}

/**
 * The rows that {@linkcode toDataFrame} makes a frame of.
 *
 * @param result A result.
 * @returns One object per row, the same columns in each.
 */
export function resultRows(
  result: Result,
): Record<string, number | string | boolean>[] {
  const rows = presenterFor(result.kind)?.rows?.(result);
  if (rows !== undefined) return rows;
  const report = reportOf(result);
  return [
    ...report.headlines.map(({ label, value, standardUncertainty, unit }) => ({
      name: label,
      value: value as number | string | boolean,
      standardUncertainty,
      unit,
    })),
    ...report.rows.map(({ label, value, standardUncertainty = NaN, unit }) => ({
      name: label,
      value: value ?? "not determined",
      standardUncertainty,
      unit: unit ?? "",
    })),
  ];
}

/** Whether a value looks like a danfojs data frame or series. */
export function isDataFrame(value: unknown): value is DataFrameLike {
  if (typeof value !== "object" || value === null) return false;
  if (isQuantityLike(value)) return false;
  const { columns, values, dtypes } = value as Record<string, unknown>;
  return Array.isArray(columns) && Array.isArray(values) &&
    Array.isArray(dtypes);
}

/**
 * Shows a danfojs data frame as a proper table: units in the heads, numbers
 * aligned, a limit on the rows.
 *
 * @param frame A data frame, or a series.
 * @param options Units, limit, digits, columns, caption.
 * @returns The table, which shows itself.
 *
 * @example
 * ```ts
 * import { showDataFrame } from "fringebook";
 * import { expect } from "vitest";
 *
 * // Any object with the columns and values of a danfojs data frame.
 * const frame = { columns: ["current"], values: [[0.04], [0.05]] };
 * expect(showDataFrame(frame, { units: { current: "A" } }).heads).toEqual([
 *   "current (A)",
 * ]);
 * ```
 */
export function showDataFrame(
  frame: DataFrameLike,
  options: TableOptions = {},
): Table {
  requireFields(frame, "frame", ["columns", "values"], "show a data frame");
  const { columns, values } = frame;
  const rows: TableRow[] = values.map((row) =>
    Object.fromEntries(
      columns.map((
        name,
        column,
      ) => [name, Array.isArray(row) ? row[column] : row]),
    )
  );
  return table(rows, { columns, ...options });
}
