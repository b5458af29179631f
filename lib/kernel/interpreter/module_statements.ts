import ts from "typescript";
import {
  importAddress,
  type ImportBinding,
  importStatement,
  refuseRequire,
} from "./import_statement.ts";
import { names } from "./names.ts";
import { resolveSpecifier } from "./specifier.ts";

/**
 * Turns static imports into awaited dynamic ones (a cell is a script, not a
 * module), drops `export`, and hands the value of the last expression to the
 * interpreter. Runs before types are removed.
 *
 * @param baseUrl URL of the notebook's folder, for relative specifiers.
 * @param bindings Filled with the names imported.
 * @returns A transformer for `transpileCell`.
 */
export function moduleStatements(
  baseUrl: string,
  bindings: ImportBinding[],
): ts.TransformerFactory<ts.SourceFile> {
  return (context) => (file) => {
    const { factory } = context;
    const statements: ts.Statement[] = [];
    const last = lastExpression(file);
    for (const statement of file.statements) {
      if (ts.isImportDeclaration(statement)) {
        const load = importStatement(factory, file, statement, baseUrl);
        if (load === null) continue;
        bindings.push(...load.bindings);
        statements.push(load.statement);
      } else if (ts.isExportDeclaration(statement)) {
        continue;
      } else if (ts.isImportEqualsDeclaration(statement)) {
        refuseRequire(file, statement);
        statements.push(statement);
      } else if (ts.isExportAssignment(statement)) {
        statements.push(ts.setTextRange(
          factory.createExpressionStatement(
            valueCall(factory, statement.expression),
          ),
          statement,
        ));
      } else if (statement === last) {
        statements.push(factory.updateExpressionStatement(
          last,
          valueCall(factory, last.expression),
        ));
      } else {
        const nameless = namelessDefault(factory, statement);
        statements.push(
          nameless
            ? factory.createExpressionStatement(valueCall(factory, nameless))
            : withoutExport(factory, statement),
        );
      }
    }
    const rewritten = factory.updateSourceFile(file, statements);
    return ts.visitEachChild(
      rewritten,
      dynamicImports(context, baseUrl),
      context,
    );
  };
}

function lastExpression(file: ts.SourceFile): ts.ExpressionStatement | null {
  const last = file.statements.findLast((item) =>
    !ts.isEmptyStatement(item) && !ts.isInterfaceDeclaration(item) &&
    !ts.isTypeAliasDeclaration(item)
  );
  return last && ts.isExpressionStatement(last) ? last : null;
}

function valueCall(factory: ts.NodeFactory, value: ts.Expression) {
  return ts.setTextRange(
    factory.createCallExpression(
      factory.createIdentifier(names.value),
      undefined,
      [value],
    ),
    value,
  );
}

/**
 * Rewrites `import("./x.ts")` and `import.meta`, at any depth. A module whose name
 * is written out is loaded as a static import loads it.
 */
function dynamicImports(
  context: ts.TransformationContext,
  baseUrl: string,
): ts.Visitor {
  const { factory } = context;
  const visit: ts.Visitor = (node) => {
    if (
      ts.isMetaProperty(node) &&
      node.keywordToken === ts.SyntaxKind.ImportKeyword
    ) {
      return factory.createIdentifier(names.meta);
    }
    const visited = ts.visitEachChild(node, visit, context);
    if (
      !ts.isCallExpression(visited) ||
      visited.expression.kind !== ts.SyntaxKind.ImportKeyword
    ) return visited;
    const [first, ...rest] = visited.arguments;
    if (first === undefined) return visited;
    const target = ts.isStringLiteralLike(first)
      ? importAddress(factory, resolveSpecifier(first.text, baseUrl))
      : factory.createCallExpression(
        factory.createIdentifier(names.resolve),
        undefined,
        [first],
      );
    const call = factory.updateCallExpression(
      visited,
      visited.expression,
      undefined,
      [target, ...rest],
    );
    return ts.isStringLiteralLike(first)
      ? loadedWhole(factory, first.text, call)
      : call;
  };
  return visit;
}

/** `load(() => import(…), "name", []).then((module) => module["*"])`. */
function loadedWhole(
  factory: ts.NodeFactory,
  specifier: string,
  call: ts.Expression,
): ts.Expression {
  const arrow = (parameters: ts.ParameterDeclaration[], body: ts.Expression) =>
    factory.createArrowFunction(
      undefined,
      undefined,
      parameters,
      undefined,
      undefined,
      body,
    );
  const loaded = factory.createCallExpression(
    factory.createIdentifier(names.load),
    undefined,
    [
      arrow([], call),
      factory.createStringLiteral(specifier),
      factory.createArrayLiteralExpression(),
    ],
  );
  return factory.createCallExpression(
    factory.createPropertyAccessExpression(loaded, "then"),
    undefined,
    [arrow(
      [factory.createParameterDeclaration(undefined, undefined, "module")],
      factory.createElementAccessExpression(
        factory.createIdentifier("module"),
        factory.createStringLiteral("*"),
      ),
    )],
  );
}

/** `export default function () {}` and the like, as an expression. */
function namelessDefault(
  factory: ts.NodeFactory,
  node: ts.Statement,
): ts.Expression | null {
  if (ts.isFunctionDeclaration(node) && !node.name && node.body) {
    const kept = ts.getModifiers(node)?.filter(({ kind }) =>
      kind === ts.SyntaxKind.AsyncKeyword
    );
    return factory.createFunctionExpression(
      kept,
      node.asteriskToken,
      undefined,
      node.typeParameters,
      node.parameters,
      node.type,
      node.body,
    );
  }
  return ts.isClassDeclaration(node) && !node.name
    ? factory.createClassExpression(
      undefined,
      undefined,
      node.typeParameters,
      node.heritageClauses,
      node.members,
    )
    : null;
}

function withoutExport(
  factory: ts.NodeFactory,
  node: ts.Statement,
): ts.Statement {
  if (!ts.canHaveModifiers(node)) return node;
  const kept = ts.getModifiers(node)?.filter(({ kind }) =>
    kind !== ts.SyntaxKind.ExportKeyword &&
    kind !== ts.SyntaxKind.DefaultKeyword
  );
  if (kept === undefined || kept.length === ts.getModifiers(node)?.length) {
    return node;
  }
  return factory.replaceModifiers(node, kept) as ts.Statement;
}
