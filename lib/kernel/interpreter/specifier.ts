/**
 * Resolves a specifier of an import in a cell: relative ones and absolute paths
 * against the notebook's folder; all others are left to the import map.
 *
 * @param specifier As written in the cell.
 * @param baseUrl URL of the notebook's folder, with a slash at the end.
 * @returns The specifier to import.
 */
export function resolveSpecifier(specifier: string, baseUrl: string): string {
  if (/^\.{0,2}\//.test(specifier)) return new URL(specifier, baseUrl).href;
  return specifier;
}
