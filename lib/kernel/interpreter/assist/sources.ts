import ts from "typescript";
import type { ImportBinding } from "../import_statement.ts";
import { hiddenName, shownName } from "../ambient_names.ts";
import type { Property, ScriptEngine } from "../script_engine.ts";
import { resolveSpecifier } from "../specifier.ts";
import { ModuleIndex } from "./module_index.ts";

/** What completion and inspection may look at. */
export interface AssistSources {
  /** Names declared by cells, as typed. */
  names(): Promise<string[]>;
  /** Properties of the value of a plain expression. */
  properties(expression: string): Promise<Property[]>;
  /** The value of a plain expression; nothing where it would have an effect. */
  peek(expression: string): Promise<{ value: unknown } | null>;
  readonly index: ModuleIndex;
  /** Names of the import map. */
  readonly mapped: readonly string[];
  /** Names in the import map of what the project exports, in its order. */
  readonly doors: readonly string[];
  /** URL of the notebook's folder. */
  readonly baseUrl: string;
  /** Modules that cells have loaded, by specifier as written. */
  readonly loaded: ReadonlyMap<string, Record<string, unknown>>;
  /** Texts of the cells that ran, the newest first. */
  cells(): string[];
  /** Where a name of the notebook or of the cell at hand was imported from. */
  originOf(
    name: string,
    code: string,
  ): { specifier: string; imported: string } | null;
}

/** The statement that imports a name. */
export function importOf(name: string, specifier: string): string {
  return `import { ${name} } from "${specifier}";`;
}

/** What the session gives to {@linkcode createSources}. */
export interface SourcesInput {
  readonly engine: ScriptEngine;
  readonly baseUrl: string;
  readonly imports: ReadonlyMap<string, ImportBinding>;
  readonly loaded: ReadonlyMap<string, Record<string, unknown>>;
  /** Names of cells that are kept from modules under other names. */
  readonly hidden: ReadonlySet<string>;
  /** Text of the project's `deno.json`; `null` where there is none. */
  readonly config: string | null;
  cells(): string[];
}

/** Puts together what completion and inspection may look at. */
export function createSources(input: SourcesInput): AssistSources {
  const { engine, baseUrl, imports, loaded, config, cells, hidden } = input;
  // Read when it is first asked for: no session waits for it.
  let read: ProjectConfig | null = null;
  const project = () => read ??= parseConfig(config);
  // Names within texts may be taken too: they are not to be had anyway.
  const kept = (expression: string) =>
    expression.replace(
      /(?<![\w$.])[\p{L}_$][\p{L}\p{N}_$]*/gu,
      (name) => hidden.has(name) ? hiddenName(name) : name,
    );
  return {
    names: async () => (await engine.lexicalNames()).map(shownName),
    properties: (expression) => engine.properties(kept(expression)),
    peek: (expression) => engine.peek(kept(expression)),
    baseUrl,
    loaded,
    cells,
    get mapped() {
      return mappedNames(project());
    },
    get doors() {
      return doorsOf(project());
    },
    index: new ModuleIndex((specifier) =>
      import.meta.resolve(resolveSpecifier(specifier, baseUrl))
    ),
    originOf: (name, code) => {
      const [first = "", second] = name.split(".");
      const binding = importsOf(code).get(first) ?? imports.get(first);
      if (!binding) return null;
      const { specifier, imported } = binding;
      if (imported === "*") {
        return second === undefined ? null : { specifier, imported: second };
      }
      return second === undefined ? { specifier, imported } : null;
    },
  };
}

/** The imports of a cell that may not have run yet. */
function importsOf(code: string): Map<string, ImportBinding> {
  const found = new Map<string, ImportBinding>();
  const file = ts.createSourceFile("cell.ts", code, ts.ScriptTarget.ESNext);
  for (const statement of file.statements) {
    if (!ts.isImportDeclaration(statement)) continue;
    if (!ts.isStringLiteral(statement.moduleSpecifier)) continue;
    const specifier = statement.moduleSpecifier.text;
    const add = (local: string, imported: string) =>
      found.set(local, { local, imported, specifier });
    const clause = statement.importClause;
    if (clause?.name) add(clause.name.text, "default");
    const named = clause?.namedBindings;
    if (named && ts.isNamespaceImport(named)) add(named.name.text, "*");
    if (named && ts.isNamedImports(named)) {
      for (const { name, propertyName } of named.elements) {
        add(name.text, (propertyName ?? name).text);
      }
    }
  }
  return found;
}

/** What `deno.json` says of names. */
interface ProjectConfig {
  readonly exports?: unknown;
  readonly imports?: Readonly<Record<string, string>>;
}

function parseConfig(config: string | null): ProjectConfig {
  if (config === null) return {};
  return ts.parseConfigFileTextToJson("deno.json", config).config ?? {};
}

function mappedNames({ imports = {} }: ProjectConfig): string[] {
  return Object.keys(imports).filter((name) => !name.endsWith("/"));
}

/** The names of the import map that stand for what the project exports. */
function doorsOf({ exports, imports = {} }: ProjectConfig): string[] {
  const paths = typeof exports === "string"
    ? [exports]
    : Object.values(exports ?? {});
  return paths.flatMap((path) =>
    Object.keys(imports).filter((name) => imports[name] === path)
  );
}

/** The first door of the project that exports a name; `null` where none does. */
export function doorOf(
  name: string,
  { doors, index }: Pick<AssistSources, "doors" | "index">,
): string | null {
  return doors.find((door) => index.names(door).includes(name)) ?? null;
}
