import ts from "typescript";
import { describe, expect, it } from "vitest";
import {
  cellCompilerOptions,
  parseCell,
  transpileCell,
} from "../../../lib/kernel/interpreter/transpile.ts";
import { moduleStatements } from "../../../lib/kernel/interpreter/module_statements.ts";
import { scriptStatements } from "../../../lib/kernel/interpreter/script_statements.ts";

// The reference is the compiler's own `ts.transpileModule`, which makes a type
// checker for each text.

const transformers = (): ts.CustomTransformers => ({
  before: [moduleStatements("file:///notebook/", [])],
  after: [scriptStatements(7)],
});

function whole(code: string) {
  const output = ts.transpileModule(code, {
    fileName: "cell.ts",
    reportDiagnostics: true,
    compilerOptions: cellCompilerOptions,
    transformers: transformers(),
  });
  return {
    code: output.outputText.replace(/^\/\/# sourceMappingURL=.*$/m, ""),
    map: output.sourceMapText,
    problems: output.diagnostics?.map(text),
  };
}

function text({ start, messageText }: ts.Diagnostic) {
  return `${start}: ${ts.flattenDiagnosticMessageText(messageText, "\n")}`;
}

const cells = {
  "values and types":
    "type A<T> = T[]; interface B { c?: A<number> }\nconst a: B = {} as B; (a!.c satisfies unknown)",
  imports:
    "import { measureMotion, type Capture as C } from 'fringebook';\nimport D, * as E from './e.ts';\nlet c: C | null = null;\nexport const f = E;\nexport default measureMotion(c!)",
  classes:
    "class A<T> extends B { static #n = 1; static { A.#n++ }\n accessor x = 1; declare y: T; constructor(private z: T, readonly q = A) { super() } get(): T { return this.z } static s = A.name }\nnew A(2)",
  decorators:
    "function d(v: unknown, _c: ClassDecoratorContext) { return v as never }\n@d class K { @(() => {}) m(): void {} static self = K }\nK",
  enums:
    "enum E { A, B = 5, C = B << 1, D = 'x'.length }\nconst enum F { G = 1 }\n[E.C, F.G]",
  namespaces:
    "namespace N { export const a = 1; export namespace M { export const b = a + 1 } }\nN.M.b",
  "import equals": "namespace P { export const q = 1 }\nimport r = P.q;\nr",
  using:
    "{ using a = { [Symbol.dispose]() {} }; await using b = null; void [a, b] }",
  "loops and functions":
    "for (var i = 0; i < 3; i++) { setTimeout(() => i) }\nasync function* g<T>(this: void, x?: T) { yield await x; for await (const y of g(x)) y }\ng",
  "texts and comments":
    "// a comment\nconst t = `é ${1 + 1} \\u{1f600}`; /* and */ t /* more */",
  abstract:
    "abstract class A { abstract b(): void; protected constructor() {} }\ndeclare const x: number; declare function f(): void; x",
  broken: "const = 1; let x: = 2 )",
  unfinished: "function f() { if (a) {",
};

describe("a cell without a type checker", () => {
  for (const [name, code] of Object.entries(cells)) {
    it(`comes out as from the whole compiler: ${name}`, () => {
      const { problems, ...own } = transpileCell(code, transformers);
      expect({ ...own, problems: problems.map(text) }).toEqual(whole(code));
      expect(parseCell(code).problems.map(text)).toEqual(whole(code).problems);
    });
  }
});
