import ts from "typescript";

/** A cell as JavaScript. */
export interface Transpiled {
  readonly code: string;
  /** Source map (JSON) of `code`. */
  readonly map: string;
  /** What the parser found wrong, in the order of the text. */
  readonly problems: readonly ts.Diagnostic[];
}

/** Options shared by all parsing of cells. */
export const cellCompilerOptions: ts.CompilerOptions = {
  target: ts.ScriptTarget.ES2022,
  module: ts.ModuleKind.ESNext,
  isolatedModules: true,
  sourceMap: true,
  removeComments: true,
  newLine: ts.NewLineKind.LineFeed,
};

/** Parts of the compiler that its types leave out, as of the locked version. */
interface Emitter {
  getTransformers(
    options: ts.CompilerOptions,
    custom: ts.CustomTransformers,
  ): { readonly scriptTransformers: readonly unknown[] };
  transformNodes(
    resolver: unknown,
    host: unknown,
    factory: ts.NodeFactory,
    options: ts.CompilerOptions,
    files: readonly ts.SourceFile[],
    transformers: readonly unknown[],
    allowDeclarationFiles: boolean,
  ): ts.TransformationResult<ts.SourceFile> & {
    readonly substituteNode: NonNullable<ts.PrintHandlers["substituteNode"]>;
  };
  createTextWriter(newLine: string): { getText(): string };
  createSourceMapGenerator(
    host: unknown,
    file: string,
    sourceRoot: string,
    folder: string,
    options: ts.CompilerOptions,
  ): { toString(): string };
}

interface FilePrinter extends ts.Printer {
  writeFile(file: ts.SourceFile, writer: unknown, map: unknown): void;
}

const emitter = ts as unknown as Emitter;

/** The emitter asked what only the type checker knows. */
class CheckerNeeded extends Error {}

/** Names of the global scope are the same to all cells: none is looked up. */
const noChecker = new Proxy({ hasGlobalName: () => false }, {
  get: (known, name) =>
    Reflect.get(known, name) ?? (() => {
      throw new CheckerNeeded(String(name));
    }),
});

const host = {
  getCurrentDirectory: () => "",
  getCanonicalFileName: (name: string) => name,
  getEmitModuleFormatOfFile: () => ts.ModuleKind.ESNext,
};

/** Parses a cell. */
export function parseCell(
  code: string,
): { readonly file: ts.SourceFile; readonly problems: ts.Diagnostic[] } {
  const file = ts.createSourceFile(
    "cell.ts",
    code,
    ts.ScriptTarget.ES2022,
    true,
  );
  const { parseDiagnostics } = file as unknown as {
    parseDiagnostics: ts.Diagnostic[];
  };
  return {
    file,
    problems: [...ts.sortAndDeduplicateDiagnostics(parseDiagnostics)],
  };
}

/**
 * Removes the types of a cell and applies transformers: what
 * `ts.transpileModule` gives. That makes a type checker for every text, some
 * hundred kilobytes whose collection a person waits for; here one is made only
 * for what cannot do without, such as an `enum`.
 *
 * @param code The cell.
 * @param transformers Makes the transformers; called once more where a checker
 * is needed, and must then begin anew.
 * @returns The JavaScript, its map, what is wrong.
 */
export function transpileCell(
  code: string,
  transformers: () => ts.CustomTransformers,
): Transpiled {
  try {
    return emitParsed(code, transformers());
  } catch (error) {
    if (!(error instanceof CheckerNeeded)) throw error;
  }
  const output = ts.transpileModule(code, {
    fileName: "cell.ts",
    reportDiagnostics: true,
    compilerOptions: cellCompilerOptions,
    transformers: transformers(),
  });
  return {
    code: output.outputText.replace(/^\/\/# sourceMappingURL=.*$/m, ""),
    map: output.sourceMapText ?? "",
    problems: output.diagnostics ?? [],
  };
}

function emitParsed(code: string, custom: ts.CustomTransformers): Transpiled {
  const options = cellCompilerOptions;
  const { file, problems } = parseCell(code);
  const result = emitter.transformNodes(
    noChecker,
    host,
    ts.factory,
    options,
    [file],
    emitter.getTransformers(options, custom).scriptTransformers,
    false,
  );
  const printer = ts.createPrinter(options as ts.PrinterOptions, {
    hasGlobalName: () => false,
    onEmitNode: result.emitNodeWithNotification,
    isEmitNotificationEnabled: (node) =>
      result.isEmitNotificationEnabled?.(node) ?? false,
    substituteNode: result.substituteNode,
  }) as FilePrinter;
  const writer = emitter.createTextWriter("\n");
  const map = emitter.createSourceMapGenerator(
    host,
    "cell.js",
    "",
    "",
    options,
  );
  printer.writeFile(result.transformed[0]!, writer, map);
  result.dispose();
  return { code: writer.getText(), map: map.toString(), problems };
}
