/** Key of a bundle under which metadata by MIME type stand. */
export const metadataSymbol: unique symbol = Symbol.for(
  "Jupyter.metadata",
) as never;

/** Metadata of a bundle by MIME type; empty where it has none. */
export function bundleMetadata(
  bundle: Readonly<Record<string, unknown>>,
): Record<string, unknown> {
  const metadata = (bundle as Record<symbol, unknown>)[metadataSymbol];
  return typeof metadata === "object" && metadata !== null
    ? metadata as Record<string, unknown>
    : {};
}
