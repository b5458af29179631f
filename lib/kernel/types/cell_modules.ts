import ts from "typescript";
import { topNames } from "../interpreter/mod.ts";

/** Folder in which cells stand as modules; it is only in memory. */
const folder = "/cells/";

/** Cells as a chain of modules, each of which imports from those before. */
export class CellModules {
  readonly #texts = new Map<string, string>();
  readonly #home = new Map<string, string>();
  #count = 0;

  /** Adds a cell that has run: later cells see its names. */
  add(code: string): void {
    const { path, names } = this.put(code);
    if (names.size === 0) return;
    this.#count++;
    for (const name of names) this.#home.set(name, path);
  }

  /** Puts the cell at hand behind those that have run. */
  put(code: string): { path: string; names: ReadonlySet<string> } {
    const path = `${folder}${this.#count}.ts`;
    const text = code.replace(/^#!/, "//");
    const names = declaredNames(text);
    // Behind the text, so that its lines stay where they are; the semicolon
    // ends what is half typed.
    this.#texts.set(path, `${text}\n;${this.#imports(names)}`);
    return { path, names };
  }

  /** The text of a module; nothing where the path is none of a cell. */
  text(path: string): string | undefined {
    return this.#texts.get(path);
  }

  /** Paths of the last cells that have run. */
  last(most: number): string[] {
    return [...this.#texts.keys()].slice(-most);
  }

  /** Forgets all cells: their session has ended. */
  clear(): void {
    this.#texts.clear();
    this.#home.clear();
    this.#count = 0;
  }

  #imports(own: ReadonlySet<string>): string {
    const lines = [...this.#home]
      .filter(([name]) => !own.has(name))
      .map(([name, path]) => `import { ${name} } from "${path}";`);
    return [...lines, `export { ${[...own].join(", ")} };`].join("\n");
  }
}

/** Values and types that a cell declares at its top. */
function declaredNames(code: string): Set<string> {
  const file = ts.createSourceFile("cell.ts", code, ts.ScriptTarget.ESNext);
  const { constant, changeable } = topNames(file);
  const types = file.statements.flatMap((statement) =>
    ts.isInterfaceDeclaration(statement) ||
      ts.isTypeAliasDeclaration(statement)
      ? [statement.name.text]
      : []
  );
  return new Set([...constant, ...changeable, ...types]);
}
