import { currentCell } from "./cell.ts";
import { bundleMetadata } from "./figure_bundle.ts";
import { isDataFrame, showDataFrame } from "./data_frame.ts";
import { table, tableBundle, type TableRow } from "./table.ts";

/** Data by MIME type. */
type Bundle = Record<string, unknown>;

/**
 * Shows a value under the running cell of a notebook: results, figures, tables,
 * danfojs data frames, rows, or anything with a `Jupyter.display` method.
 * Outside a notebook it prints the console form.
 *
 * @param value Any value.
 *
 * @example
 * ```ts
 * import { display, table } from "fringebook";
 *
 * await display(table([{ current: 0.04 }], { units: { current: "A" } }));
 * ```
 */
export async function display(value: unknown): Promise<void> {
  const cell = currentCell();
  if (cell === null) {
    console.log(await consoleText(value));
    return;
  }
  const data = await valueBundle(value);
  cell.publish({
    type: "display_data",
    data,
    metadata: bundleMetadata(data),
    displayId: null,
  });
}

/**
 * The MIME bundle of any value.
 *
 * @param value Any value.
 * @returns Data by MIME type, always with `text/plain`.
 *
 * @example
 * ```ts
 * import { valueBundle } from "fringebook";
 * import { expect } from "vitest";
 *
 * const bundle = await valueBundle([{ current: 0.04 }]);
 * expect(Object.keys(bundle)).toContain("text/html");
 * ```
 */
export async function valueBundle(
  value: unknown,
): Promise<Record<string, unknown>> {
  const show = displayMethod(value);
  if (show !== null) return await show();
  if (isDataFrame(value)) return tableBundle(showDataFrame(value));
  if (isRows(value)) return tableBundle(table(value));
  return { "text/plain": inspect(value) };
}

async function consoleText(value: unknown): Promise<string> {
  if (displayMethod(value) !== null) return inspect(value);
  const plain = (await valueBundle(value))["text/plain"];
  return typeof plain === "string" ? plain : inspect(value);
}

function displayMethod(
  value: unknown,
): (() => Bundle | Promise<Bundle>) | null {
  if (typeof value !== "object" && typeof value !== "function") return null;
  const method = (value as Record<symbol, unknown> | null)
    ?.[Symbol.for("Jupyter.display")];
  return typeof method === "function" ? () => method.call(value) : null;
}

function isRows(value: unknown): value is TableRow[] {
  return Array.isArray(value) && value.length > 0 &&
    value.every((row) =>
      typeof row === "object" && row !== null &&
      Object.getPrototypeOf(row) === Object.prototype
    );
}

function inspect(value: unknown): string {
  return typeof value === "string"
    ? value
    : Deno.inspect(value, { colors: false, depth: 4 });
}
