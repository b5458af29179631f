/** Where a module names another: `from "x"`, `import "x"`, `import("x")`. */
const specifiers =
  /((?:^|[\s;}])(?:from|import)\s*|\bimport\(\s*)"([^"./][^"]*)"/gm;

/**
 * Puts the names of the registry in place of those of an import map.
 *
 * @param text Text of a module.
 * @param imports The import map.
 * @returns The text, and the packages that it imports.
 */
export function registryNames(
  text: string,
  imports: Readonly<Record<string, string>>,
): { readonly text: string; readonly packages: ReadonlySet<string> } {
  const packages = new Set<string>();
  // Examples in doc comments stay as a person writes them.
  const lines = text.split("\n").map((line) =>
    /^\s*\*(?!\/)/.test(line) ? line : line.replace(
      specifiers,
      (all, before: string, name: string) => {
        const target = registryName(name, imports);
        if (target === null) return all;
        packages.add(/^(?:@[^/]+\/)?[^/]+/.exec(target)![0]);
        return `${before}"${target}"`;
      },
    )
  );
  return { text: lines.join("\n"), packages };
}

/** `deno-std/path/mod.js` for `@std/path`; `null` for what is no package. */
function registryName(
  name: string,
  imports: Readonly<Record<string, string>>,
): string | null {
  if (name.startsWith("node:")) return null;
  const key = Object.hasOwn(imports, name)
    ? name
    : Object.keys(imports).filter((each) =>
      each.endsWith("/") && name.startsWith(each)
    ).sort((a, b) => b.length - a.length)[0];
  if (key === undefined) return null;
  const target = /^npm:\/?((?:@[^/]+\/)?[^/@]+)@[^/]+(.*)$/.exec(imports[key]!);
  if (target === null) return null;
  return target[1]! + target[2]! + name.slice(key.length);
}
