import type { MimeBundle } from "../protocol/interpreter.ts";

const displaySymbol = Symbol.for("Jupyter.display");
const metadataSymbol = Symbol.for("Jupyter.metadata");

/** A value in the forms in which it can be shown. */
export interface ShownValue {
  readonly data: MimeBundle;
  readonly metadata: Record<string, unknown>;
}

/**
 * The form in which a value is shown: its own MIME bundle where it has
 * `[Symbol.for("Jupyter.display")]()` (a bundle or a promise of one), else the
 * console form without colours. There is always a `text/plain`. Metadata by MIME
 * type, such as the size of a picture on the page, may stand in the bundle under
 * `Symbol.for("Jupyter.metadata")`.
 *
 * @param value Any value.
 * @returns The MIME bundle.
 */
export async function valueForm(value: unknown): Promise<ShownValue> {
  const own = await ownBundle(value);
  const data = own ?? {};
  if (!("text/plain" in data)) data["text/plain"] = inspectText(value);
  const metadata = (data as Record<symbol, unknown>)[metadataSymbol] ?? {};
  return { data, metadata: metadata as Record<string, unknown> };
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
