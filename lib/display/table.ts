import {
  handedOption,
  listOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireRecords,
} from "../options/mod.ts";
import { escapeHtml, escapeMarkdown, oneLine } from "./escape.ts";
import { formatNumber } from "./format_number.ts";
import { formatQuantity } from "./format_quantity.ts";
import { isQuantityLike } from "./report_of.ts";

/** A value of a table. */
export type TableValue = number | string | boolean | bigint | null | undefined;

/** One row: column name → value. */
export type TableRow = Readonly<Record<string, unknown>>;

/** Options of {@linkcode table}. */
export interface TableOptions {
  /**
   * Unit of a column, shown in its head: column name → unit symbol. The numbers
   * are shown as they are.
   *
   * @default {{}}
   */
  units?: Readonly<Record<string, string>>;
  /**
   * Most rows to show; the rest is counted under the table.
   *
   * @default {20}
   */
  limit?: number;
  /**
   * Significant digits of numbers.
   *
   * @default {5}
   */
  digits?: number;
  /**
   * Columns and their order; all that occur, in order of first use, where left
   * out.
   *
   * @default {null}
   */
  columns?: readonly string[] | null;
  /**
   * Caption above the table; empty for none.
   *
   * @default {""}
   */
  caption?: string;
}

export const tableSpec = {
  units: optional(
    handedOption<Readonly<Record<string, string>>>(
      "Unit of a column, shown in its head: column name → unit symbol.",
      "an object",
      (value) => typeof value === "object" && value !== null,
    ),
    {} as Readonly<Record<string, string>>,
    "none",
  ),
  limit: optional(optionOf.whole("Most rows to show.", { least: 0 }), 20),
  digits: optional(
    optionOf.whole("Significant digits of numbers.", { least: 1, most: 21 }),
    5,
  ),
  columns: optional(
    listOption("Columns and their order.", optionOf.text("Column.")),
    null,
    "all that occur",
  ),
  caption: optional(optionOf.text("Caption above the table."), "", "none"),
} satisfies Record<keyof TableOptions, Option>;

/** A table that shows itself. */
export interface Table {
  /** Column heads with units. */
  readonly heads: readonly string[];
  /** Cells in words, of the rows shown. */
  readonly cells: readonly (readonly string[])[];
  /** Whether a column holds numbers and is aligned at its right. */
  readonly numeric: readonly boolean[];
  /** Rows in all. */
  readonly rowCount: number;
  /** Caption; may be empty. */
  readonly caption: string;
}

const tableForm = {
  [Symbol.for("Jupyter.display")](this: Table) {
    return tableBundle(this);
  },
  [Symbol.for("Deno.customInspect")](this: Table) {
    return tableText(this);
  },
};

/**
 * Makes a table of plain rows: units in the heads, numbers aligned at the
 * right, quantities with their uncertainty, a limit on the rows shown.
 *
 * @param rows One object per row.
 * @param options Units, limit, digits, columns, caption.
 * @returns The table.
 *
 * @example
 * ```ts
 * import { table } from "fringebook";
 * import { expect } from "vitest";
 *
 * const shown = table([{ distance: 0.2, steps: 12 }], {
 *   units: { distance: "m" },
 * });
 * expect(shown.heads).toEqual(["distance (m)", "steps"]);
 * expect(shown.cells).toEqual([["0.2", "12"]]);
 * ```
 */
export function table(
  rows: readonly TableRow[],
  options: TableOptions = {},
): Table {
  const task = "make a table";
  requireRecords(rows, "rows", [], task);
  const { units, limit, digits, columns, caption } = readOptions(
    tableSpec,
    options,
    task,
  );
  const names = columns ??
    [...new Set(rows.slice(0, 1000).flatMap((row) => Object.keys(row)))];
  const shown = rows.slice(0, Math.max(0, limit));
  return Object.assign(Object.create(tableForm), {
    heads: names.map((name) =>
      units[name] === undefined || units[name] === ""
        ? name
        : `${name} (${units[name]})`
    ),
    cells: shown.map((row) => names.map((name) => cellText(row[name], digits))),
    numeric: names.map((name) =>
      shown.some((row) => isNumber(row[name])) &&
      shown.every((row) => isNumber(row[name]) || row[name] == null)
    ),
    rowCount: rows.length,
    caption,
  });
}

/** MIME bundle of a table. */
export function tableBundle(shown: Table): Record<string, unknown> {
  return {
    "text/html": tableHtml(shown),
    "text/markdown": tableMarkdown(shown),
    "text/plain": tableText(shown),
  };
}

function isNumber(value: unknown): boolean {
  return typeof value === "number" || typeof value === "bigint";
}

function cellText(value: unknown, digits: number): string {
  if (value === null || value === undefined) return "";
  if (typeof value === "number") return formatNumber(value, { digits });
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (value instanceof Date) {
    return Number.isNaN(value.getTime()) ? "NaN" : value.toISOString();
  }
  if (isQuantityLike(value)) return formatQuantity(value);
  if (typeof value === "object") {
    try {
      return JSON.stringify(value) ?? "";
    } catch {
      return "[object]";
    }
  }
  return String(value);
}

/** Remark under the table where rows were left out; empty otherwise. */
function remark({ rowCount, cells }: Table): string {
  return cells.length < rowCount
    ? `${cells.length} of ${rowCount} rows shown`
    : "";
}

function tableHtml(shown: Table): string {
  const align = (column: number) =>
    `text-align: ${
      shown.numeric[column] ? "right" : "left"
    }; padding: 0.2em 0.8em;`;
  const head = shown.heads.map((text, column) =>
    `<th scope="col" style="${align(column)}">${escapeHtml(text)}</th>`
  ).join("");
  const body = shown.cells.map((row) =>
    `<tr>${
      row.map((text, column) =>
        `<td style="${align(column)}">${escapeHtml(text)}</td>`
      ).join("")
    }</tr>`
  ).join("\n");
  const caption = shown.caption === ""
    ? ""
    : `<caption style="text-align: left;">${
      escapeHtml(shown.caption)
    }</caption>`;
  const rest = remark(shown);
  return `<table class="fringebook-table" style="border-collapse: collapse;">${caption}<thead><tr>${head}</tr></thead><tbody>\n${body}\n</tbody></table>` +
    (rest === "" ? "" : `\n<p>${rest}</p>`);
}

function tableMarkdown(shown: Table): string {
  const line = (cells: readonly string[]) =>
    `| ${cells.map(escapeMarkdown).join(" | ")} |`;
  const rest = remark(shown);
  return [
    ...(shown.caption === "" ? [] : [escapeMarkdown(shown.caption), ""]),
    line(shown.heads),
    `|${shown.numeric.map((right) => right ? "--:" : ":--").join("|")}|`,
    ...shown.cells.map(line),
    ...(rest === "" ? [] : ["", rest]),
  ].join("\n");
}

function tableText(shown: Table): string {
  const lines = [shown.heads, ...shown.cells].map((row) => row.map(oneLine));
  const widths = shown.heads.map((_, column) =>
    Math.max(...lines.map((row) => (row[column] ?? "").length))
  );
  const rest = remark(shown);
  return [
    ...(shown.caption === "" ? [] : [oneLine(shown.caption)]),
    ...lines.map((row) =>
      row.map((text, column) =>
        shown.numeric[column]
          ? text.padStart(widths[column] ?? 0)
          : text.padEnd(widths[column] ?? 0)
      ).join("  ").trimEnd()
    ),
    ...(rest === "" ? [] : [rest]),
  ].join("\n");
}
