import { importFetched } from "../../runtime/mod.ts";
import { forCells, refusePagePackage } from "./page_packages.ts";
import { resolveSpecifier } from "./specifier.ts";

/** Modules that cells have loaded, by specifier as written. */
export const loadedModules: Map<string, Record<string, unknown>> = new Map();

/**
 * Loads a module for an import of a cell.
 *
 * @param load Imports it.
 * @param specifier As written, for messages.
 * @param needed Names that the cell uses as values.
 * @returns The names of the module, and itself under `"*"`.
 * @throws {TypeError} If the package can only work in a page.
 * @throws {SyntaxError} If the module lacks a name that the cell needs.
 */
export async function loadModule(
  load: () => Promise<Record<string, unknown>>,
  specifier: string,
  needed: readonly string[],
): Promise<Record<string, unknown>> {
  refusePagePackage(specifier);
  const module = forCells(specifier, await importFetched(specifier, load));
  loadedModules.set(specifier, module);
  for (const name of needed) {
    if (name in module) continue;
    const known = Object.keys(module).sort().slice(0, 12).join(", ");
    throw new SyntaxError(
      `The module "${specifier}" has no export named "${name}"; it has ${
        known || "none"
      }`,
    );
  }
  return Object.assign(Object.create(null), module, { "*": module });
}

/** Makes the resolver of dynamic imports whose argument is computed. */
export function dynamicResolver(baseUrl: string): (value: unknown) => string {
  return (value) => {
    refusePagePackage(String(value));
    return resolveSpecifier(String(value), baseUrl);
  };
}

/** What stands for `import.meta` in cells. */
export function cellMeta(baseUrl: string): Record<string, unknown> {
  const url = new URL("notebook.ts", baseUrl);
  const directory = new URL(".", baseUrl);
  return {
    url: url.href,
    filename: decodeURIComponent(url.pathname),
    dirname: decodeURIComponent(directory.pathname).replace(/\/$/, ""),
    main: false,
    resolve: (specifier: string) =>
      /^\.{0,2}\//.test(specifier)
        ? resolveSpecifier(specifier, baseUrl)
        : import.meta.resolve(specifier),
  };
}
