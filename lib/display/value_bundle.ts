import { bundleMetadata } from "./bundle_metadata.ts";
import { currentCell } from "./cell.ts";
import { isDataFrame, showDataFrame } from "./data_frame.ts";
import { escapeHtml } from "./escape.ts";
import { createFigure } from "./figure.ts";
import { formatQuantity } from "./format_quantity.ts";
import { outerHtml, pictureBundle, sizeText } from "./picture_values.ts";
import { isQuantityLike, words } from "./report_of.ts";
import { table, tableBundle, type TableRow } from "./table.ts";

/** Data by MIME type. */
type Bundle = Record<string, unknown>;

/** Longest text of a value that is shown whole, in characters. */
const longestText = 20_000;

/** Most values of one object that show themselves one below the other. */
const mostParts = 12;

/**
 * The MIME bundle of any value: what has a `Jupyter.display` method shows itself;
 * data frames and series of danfojs and arrays of rows show as tables, quantities
 * with unit and expanded uncertainty, plotly.js specifications as figures, SVG
 * text and elements and the bytes of pictures as pictures. Anything else shows
 * in its console form, cut where it is long.
 *
 * @param value Any value.
 * @returns Data by MIME type, always with `text/plain`.
 *
 * @example
 * ```ts
 * import { quantity } from "fringebook";
 * import { bundleOfValue } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * const bundle = await bundleOfValue([{ current: 0.04 }]);
 * expect(Object.keys(bundle)).toContain("text/html");
 * const length = await bundleOfValue(quantity(0.2, 1e-3, "m"));
 * expect(length["text/plain"]).toBe("(200.0 ± 2.0) mm, k = 2");
 * ```
 */
export async function bundleOfValue(
  value: unknown,
): Promise<Record<string, unknown>> {
  return await bundleOfKnown(value) ?? { "text/plain": consoleForm(value) };
}

/**
 * The same for values that have a form of their own.
 *
 * @param value Any value.
 * @returns Data by MIME type; `null` where the console form is all there is.
 *
 * @example
 * ```ts
 * import { bundleOfKnown } from "fringebook/display";
 * import { expect } from "vitest";
 *
 * expect(await bundleOfKnown(12)).toBe(null);
 * ```
 */
export async function bundleOfKnown(
  value: unknown,
): Promise<Record<string, unknown> | null> {
  const show = displayMethod(value);
  if (show !== null) return await show();
  if (isPromise(value)) {
    return { "text/plain": `a Promise: write 'await' in front of it` };
  }
  if (isDataFrame(value)) return tableBundle(showDataFrame(value));
  if (isQuantityLike(value)) return quantityBundle(value);
  if (isRows(value)) return tableBundle(table(value));
  if (isSpecification(value)) return await specificationBundle(value);
  const picture = pictureBundle(value);
  if (picture !== null) return picture;
  const markup = outerHtml(value);
  if (markup !== null) {
    return { "text/html": markup, "text/plain": cutText(markup) };
  }
  return quantitiesBundle(value) ?? await partsBundle(value);
}

/** The console form of a value without colours, cut where it is long. */
export function consoleForm(value: unknown): string {
  return cutText(
    typeof value === "string"
      ? value
      : Deno.inspect(value, { colors: false, depth: 4 }),
  );
}

/** Both ends of a long text, with the size of the whole. */
function cutText(text: string): string {
  if (text.length <= longestText) return text;
  const half = longestText / 2;
  return `${text.slice(0, half)}\n… ${sizeText(text.length - longestText)} of ${
    sizeText(text.length)
  } left out …\n${text.slice(-half)}`;
}

/** Whether a value shows itself, and how. */
export function displayMethod(
  value: unknown,
): (() => Bundle | Promise<Bundle>) | null {
  if (typeof value !== "object" && typeof value !== "function") return null;
  const method = (value as Record<symbol, unknown> | null)
    ?.[Symbol.for("Jupyter.display")];
  return typeof method === "function" ? () => method.call(value) : null;
}

function isPromise(value: unknown): boolean {
  return value instanceof Promise;
}

function isPlain(value: unknown): value is Record<string, unknown> {
  return typeof value === "object" && value !== null &&
    Object.getPrototypeOf(value) === Object.prototype;
}

function isRows(value: unknown): value is TableRow[] {
  return Array.isArray(value) && value.length > 0 && value.every(isPlain) &&
    !value.every(isQuantityLike);
}

function quantityBundle(value: Parameters<typeof formatQuantity>[0]): Bundle {
  const text = formatQuantity(value, { form: "plus-minus" });
  return {
    "text/html": `<strong>${escapeHtml(text)}</strong>`,
    "text/plain": text,
  };
}

/** A plain object or list of quantities and short values as a table. */
function quantitiesBundle(value: unknown): Bundle | null {
  if (!isPlain(value) && !Array.isArray(value)) return null;
  const entries = Object.entries(value);
  const short = (item: unknown) =>
    isQuantityLike(item) || item === null || item === undefined ||
    ["number", "string", "boolean"].includes(typeof item);
  if (
    entries.length === 0 || entries.length > 200 ||
    !entries.every(([, item]) => short(item)) ||
    !entries.some(([, item]) => isQuantityLike(item))
  ) return null;
  return tableBundle(table(
    entries.map(([name, item]) => ({
      name: Array.isArray(value) ? Number(name) : words(name),
      value: isQuantityLike(item)
        ? formatQuantity(item, { form: "plus-minus" })
        : item,
    })),
    { limit: 200 },
  ));
}

interface Specification {
  readonly data: readonly Record<string, unknown>[];
  readonly layout?: Record<string, unknown>;
}

/** `{ data, layout }` of plotly.js: at least one trace with numbers to draw. */
function isSpecification(value: unknown): value is Specification {
  if (!isPlain(value)) return false;
  const { data, layout } = value;
  return Array.isArray(data) && data.length > 0 &&
    (layout === undefined || isPlain(layout)) &&
    data.every((trace) =>
      isPlain(trace) &&
      ["x", "y", "z", "values"].some((key) =>
        Array.isArray(trace[key]) || ArrayBuffer.isView(trace[key])
      )
    );
}

async function specificationBundle(
  { data, layout = {} }: Specification,
): Promise<Bundle> {
  const { title } = layout as { title?: string | { text?: string } };
  const text = typeof title === "string" ? title : title?.text;
  const figure = createFigure({ data, layout, caption: text ?? "A figure" });
  return await displayMethod(figure)!();
}

/**
 * An object of values that show themselves, such as all results of a capture:
 * one output below the other in a notebook.
 */
async function partsBundle(value: unknown): Promise<Bundle | null> {
  if (!isPlain(value) && !Array.isArray(value)) return null;
  const parts = Object.entries(value).flatMap(([name, item]) =>
    (Array.isArray(item) ? item : [item])
      .filter((part) => displayMethod(part) !== null)
      .map((part) => ({ name, part }))
  ).slice(0, mostParts);
  if (parts.length === 0) return null;
  const counts = Array.isArray(value)
    ? `${value.length} values`
    : Object.entries(value).map(([name, item]) =>
      Array.isArray(item) ? `${name} (${item.length})` : name
    ).join(", ");
  const cell = currentCell();
  if (cell === null) {
    const texts: string[] = [];
    for (const { part } of parts) {
      texts.push(String((await displayMethod(part)!())["text/plain"] ?? ""));
    }
    return { "text/plain": [counts, ...texts].join("\n\n") };
  }
  for (const { part } of parts) {
    const data = await displayMethod(part)!();
    cell.publish({
      type: "display_data",
      data,
      metadata: bundleMetadata(data),
      displayId: null,
    });
  }
  return { "text/plain": `shown above: ${counts}` };
}
