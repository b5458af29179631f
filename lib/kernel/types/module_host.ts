import { fromFileUrl, join } from "@std/path";
import ts from "typescript";
import type { CellModules } from "./cell_modules.ts";

/** What a type check may look at. */
export interface ModulePlace {
  /** Folder of the notebook. */
  readonly notebookFolder: string;
  /** Folder of the project. */
  readonly projectFolder: string;
  /** Names of the import map. */
  readonly imports: Readonly<Record<string, string>>;
}

const options: ts.CompilerOptions = {
  target: ts.ScriptTarget.ESNext,
  module: ts.ModuleKind.ESNext,
  moduleResolution: ts.ModuleResolutionKind.Bundler,
  lib: ["lib.esnext.d.ts", "lib.dom.d.ts", "lib.dom.iterable.d.ts"],
  types: [],
  allowImportingTsExtensions: true,
  noEmit: true,
  skipLibCheck: true,
  strict: true,
  noImplicitAny: false,
};

/** What cells find without importing it, and the runtime's own names. */
const ambientPath = "/cells/ambient.d.ts";
const ambientText = ["Deno", "cell", "input", "process", "Buffer"]
  .map((name) => `declare const ${name}: any;`).join("\n");

/** Modules of packages are taken for anything. */
const extensions: Record<string, ts.Extension> = {
  ".ts": ts.Extension.Ts,
  ".mts": ts.Extension.Mts,
  ".tsx": ts.Extension.Tsx,
};

/**
 * The view that the compiler has of cells and files.
 *
 * @param cells The cells.
 * @param place Where modules are looked for.
 * @param roots Paths of the modules to check.
 */
export function moduleHost(
  cells: CellModules,
  place: ModulePlace,
  roots: () => readonly string[],
): ts.LanguageServiceHost {
  const library = ts.getDefaultLibFilePath(options).replace(/[^\\/]*$/, "");
  const files = new Map<string, { time: number; text: string }>();
  const textOf = (path: string): string | undefined => {
    if (path === ambientPath) return ambientText;
    return cells.text(path) ?? fileOf(path)?.text;
  };
  const fileOf = (path: string) => {
    try {
      const time = Deno.statSync(path).mtime?.getTime() ?? 0;
      const known = files.get(path);
      if (known?.time === time) return known;
      const read = { time, text: Deno.readTextFileSync(path) };
      files.set(path, read);
      return read;
    } catch {
      return undefined;
    }
  };
  return {
    getCompilationSettings: () => options,
    getScriptFileNames: () => [ambientPath, ...roots()],
    // Of files only those beside the notebook are looked at again.
    getScriptVersion: (path) =>
      cells.text(path) ?? (path.startsWith(`${place.notebookFolder}/`) &&
          !path.startsWith(`${place.projectFolder}/`)
        ? String(fileOf(path)?.time)
        : ""),
    getScriptSnapshot: (path) => {
      const text = textOf(path);
      return text === undefined
        ? undefined
        : ts.ScriptSnapshot.fromString(text);
    },
    getCurrentDirectory: () => place.notebookFolder,
    getDefaultLibFileName: () => `${library}lib.esnext.d.ts`,
    fileExists: (path) => textOf(path) !== undefined,
    readFile: textOf,
    resolveModuleNameLiterals: (literals, from) =>
      literals.map(({ text }) => resolved(text, from, place, cells)),
  };
}

function resolved(
  specifier: string,
  from: string,
  place: ModulePlace,
  cells: CellModules,
): ts.ResolvedModuleWithFailedLookupLocations {
  const path = pathOf(specifier, from, place, cells);
  const extension = extensions[/\.\w+$/.exec(path ?? "")?.[0] ?? ""];
  return {
    resolvedModule: path !== null && extension !== undefined
      ? { resolvedFileName: path, extension, isExternalLibraryImport: false }
      : undefined,
  };
}

function pathOf(
  specifier: string,
  from: string,
  { notebookFolder, projectFolder, imports }: ModulePlace,
  cells: CellModules,
): string | null {
  if (cells.text(specifier) !== undefined) return specifier;
  if (/^\.{0,2}\//.test(specifier)) {
    return cells.text(from) === undefined
      ? join(from, "..", specifier)
      : join(notebookFolder, specifier);
  }
  if (specifier.startsWith("file:")) return fromFileUrl(specifier);
  const mapped = imports[specifier] ?? prefixed(specifier, imports);
  return mapped?.startsWith("./") ? join(projectFolder, mapped) : null;
}

/** `name/rest` where the map has `name/`. */
function prefixed(
  specifier: string,
  imports: ModulePlace["imports"],
): string | undefined {
  const key = Object.keys(imports).find((name) =>
    name.endsWith("/") && specifier.startsWith(name)
  );
  return key && `${imports[key]}${specifier.slice(key.length)}`;
}
