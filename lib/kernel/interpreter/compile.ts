import ts from "typescript";
import type { ImportBinding } from "./import_statement.ts";
import { moduleStatements } from "./module_statements.ts";
import { scriptStatements } from "./script_statements.ts";
import { ambientNames, hideNames } from "./ambient_names.ts";
import { checkConstants, type TopNames, topNames } from "./constants.ts";
import { transpileCell } from "./transpile.ts";
import { CellSyntaxError } from "./syntax_error.ts";

/** A cell made ready to run. */
export interface CompiledCell {
  /** JavaScript for a REPL-mode script; the first line is a directive. */
  readonly code: string;
  /** Source map (JSON) of `code` without its first line. */
  readonly map: string;
  /** Names that the cell imports. */
  readonly imports: readonly ImportBinding[];
  /** Names that the cell declares at its top. */
  readonly names: TopNames;
  /** Names that are kept from modules, of this cell and earlier ones. */
  readonly hidden: ReadonlySet<string>;
}

/** Where a cell stands. */
export interface CompilePlace {
  /** Number of the cell in the session. */
  readonly ordinal: number;
  /** URL of the notebook's folder, with a slash at the end. */
  readonly baseUrl: string;
  /** Names that earlier cells declared as constants. */
  readonly constants: ReadonlySet<string>;
  /** Names of earlier cells that are kept from modules. */
  readonly hidden: ReadonlySet<string>;
}

/**
 * Compiles the TypeScript of one cell.
 *
 * @param code The cell as typed.
 * @param place Where the cell stands.
 * @returns What to run, and how to find the way back.
 * @throws {CellSyntaxError} If the cell cannot be parsed.
 */
export function compileCell(code: string, place: CompilePlace): CompiledCell {
  const imports: ImportBinding[] = [];
  let parsed: ts.SourceFile | null = null;
  const hidden = new Set(place.hidden);
  const output = transpileCell(code.replace(/^#!/, "//"), () => {
    imports.length = 0;
    return {
      before: [
        (context) => (file) => {
          parsed = file;
          const { constant, changeable } = topNames(file);
          for (const name of [...constant, ...changeable]) {
            if (ambientNames().has(name)) hidden.add(name);
          }
          return hideNames(hidden)(context)(file);
        },
        moduleStatements(place.baseUrl, imports),
      ],
      after: [scriptStatements(place.ordinal)],
    };
  });
  const [problem] = output.problems.filter((item) =>
    item.category === ts.DiagnosticCategory.Error
  );
  if (problem) {
    const { line, column } = locate(code, problem.start ?? 0);
    throw new CellSyntaxError(
      ts.flattenDiagnosticMessageText(problem.messageText, "\n"),
      line,
      column,
    );
  }
  const file = parsed as ts.SourceFile | null;
  if (file) checkConstants(file, place.constants);
  const body = output.code.replace(/^export \{\};\n?/m, "");
  return {
    code: `"use strict";\n${body}`,
    map: output.map,
    imports,
    hidden,
    names: file
      ? topNames(file)
      : { constant: new Set(), changeable: new Set() },
  };
}

/** Line and column, both from 1, of an offset. */
export function locate(
  code: string,
  offset: number,
): { line: number; column: number } {
  const before = code.slice(0, offset);
  const line = before.split("\n").length;
  return { line, column: offset - before.lastIndexOf("\n") };
}

/** The names that a cell declares at its top. */
export function cellNames(code: string): Set<string> {
  const file = ts.createSourceFile("cell.ts", code, ts.ScriptTarget.ESNext);
  const { constant, changeable } = topNames(file);
  return new Set([...constant, ...changeable]);
}
