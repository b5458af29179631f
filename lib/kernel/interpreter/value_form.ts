import type { MimeBundle } from "../protocol/interpreter.ts";

/** Key of the method by which a value shows itself. */
export const displaySymbol: unique symbol = Symbol.for(
  "Jupyter.display",
) as never;
const metadataSymbol = Symbol.for("Jupyter.metadata");

/** A value in the forms in which it can be shown. */
export interface ShownValue {
  readonly data: MimeBundle;
  readonly metadata: Record<string, unknown>;
}

/**
 * Gives the MIME bundle of a value that does not show itself; `null` for the
 * console form.
 */
export type ValueViewer = (value: unknown) => Promise<MimeBundle | null>;

let viewer: ValueViewer | null = null;

/** Sets who shows the values that do not show themselves. */
export function setValueViewer(next: ValueViewer | null): void {
  viewer = next;
}

/** Longest console form that is sent whole, in characters. */
const longestText = 100_000;

/**
 * The form in which a value is shown: its own MIME bundle where it has
 * `[Symbol.for("Jupyter.display")]()` (a bundle or a promise of one), else that of
 * the viewer (tables, pictures, figures), else the console form without colours.
 * There is always a `text/plain`. Metadata by MIME type, such as the size of a
 * picture on the page, may stand in the bundle under
 * `Symbol.for("Jupyter.metadata")`.
 *
 * @param value Any value.
 * @returns The MIME bundle.
 */
export async function valueForm(value: unknown): Promise<ShownValue> {
  const own = await ownBundle(value) ?? await viewedBundle(value);
  const data = own ?? {};
  if (!("text/plain" in data)) data["text/plain"] = cutText(inspectText(value));
  const metadata = (data as Record<symbol, unknown>)[metadataSymbol] ?? {};
  return { data, metadata: metadata as Record<string, unknown> };
}

/** What the viewer may know; it is loaded when the first such value comes. */
async function viewedBundle(value: unknown): Promise<MimeBundle | null> {
  if (viewer === null || !mayBeKnown(value)) return null;
  try {
    const bundle = await viewer(value);
    return bundle === null ? null : { ...bundle };
  } catch (error) {
    if ((error as Error)?.name === "KeyboardInterrupt") throw error;
    return null;
  }
}

function mayBeKnown(value: unknown): boolean {
  if (typeof value === "string") return /^\s*(<\?xml|<svg[\s>])/.test(value);
  if (typeof value !== "object" || value === null) return false;
  if (value instanceof Promise || value instanceof ArrayBuffer) return true;
  if (ArrayBuffer.isView(value)) return value instanceof Uint8Array;
  try {
    const items = Array.isArray(value) ? value : Object.values(value);
    return "columns" in value || "outerHTML" in value || "data" in value ||
      "standardUncertainty" in value || items.slice(0, 50).some(isObject);
  } catch {
    return false;
  }
}

function isObject(value: unknown): boolean {
  return typeof value === "object" && value !== null;
}

/** Both ends of a long text, with the size of the whole. */
function cutText(text: string): string {
  if (text.length <= longestText) return text;
  const half = longestText / 2;
  return `${text.slice(0, half)}\n… ${
    text.length - longestText
  } of ${text.length} characters left out …\n${text.slice(-half)}`;
}

/** The console form of a value, without colours and without cutting text. */
export function inspectText(value: unknown): string {
  return Deno.inspect(value, {
    colors: false,
    strAbbreviateSize: Infinity,
    depth: 4,
    iterableLimit: 100,
  });
}

async function ownBundle(value: unknown): Promise<MimeBundle | null> {
  if (
    value === null || typeof value !== "object" && typeof value !== "function"
  ) return null;
  const show = (value as Record<symbol, unknown>)[displaySymbol];
  if (typeof show !== "function") return null;
  const bundle = await show.call(value);
  if (typeof bundle !== "object" || bundle === null || Array.isArray(bundle)) {
    throw new TypeError(
      `Cannot show the value as its [Symbol.for("Jupyter.display")]() did not return an object of MIME types: current value is ${
        inspectText(bundle)
      }`,
    );
  }
  return { ...bundle };
}
