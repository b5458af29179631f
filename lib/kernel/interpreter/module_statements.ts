import ts from "typescript";
import { names } from "./names.ts";
import { resolveSpecifier } from "./specifier.ts";
import { CellSyntaxError } from "./syntax_error.ts";
import { isValueUsed } from "./value_use.ts";

/** A name that a cell imports. */
export interface ImportBinding {
  /** Name in the notebook. */
  readonly local: string;
  /** Name in the module, `"*"` for the whole module. */
  readonly imported: string;
  /** The specifier as written. */
  readonly specifier: string;
}

/**
 * Turns static imports into awaited dynamic ones (a cell is a script, not a
 * module), drops `export`, and hands the value of the last expression to the
 * interpreter. Runs before types are removed.
 *
 * @param baseUrl URL of the notebook's folder, for relative specifiers.
 * @param bindings Filled with the names imported.
 * @returns A transformer for `ts.transpileModule`.
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

function importStatement(
  factory: ts.NodeFactory,
  file: ts.SourceFile,
  node: ts.ImportDeclaration,
  baseUrl: string,
): { statement: ts.Statement; bindings: ImportBinding[] } | null {
  const clause = node.importClause;
  if (clause?.isTypeOnly) return null;
  const specifier = (node.moduleSpecifier as ts.StringLiteral).text;
  const bindings: ImportBinding[] = [];
  if (clause?.name) {
    bindings.push({ local: clause.name.text, imported: "default", specifier });
  }
  const named = clause?.namedBindings;
  if (named && ts.isNamespaceImport(named)) {
    bindings.push({ local: named.name.text, imported: "*", specifier });
  }
  if (named && ts.isNamedImports(named)) {
    for (const element of named.elements) {
      if (element.isTypeOnly) continue;
      bindings.push({
        local: element.name.text,
        imported: (element.propertyName ?? element.name).text,
        specifier,
      });
    }
    // `import { type A } from "x"` names nothing to load.
    if (bindings.length === 0 && named.elements.length > 0) return null;
  }
  const plain = bindings.filter(({ imported }) => imported !== "*");
  const needed = plain
    .filter(({ local }) => isValueUsed(file, local))
    .map(({ imported }) => imported);
  const attributes = attributesOf(factory, node);
  const call = factory.createCallExpression(
    factory.createIdentifier(names.load),
    undefined,
    [
      factory.createArrowFunction(
        undefined,
        undefined,
        [],
        undefined,
        undefined,
        factory.createCallExpression(
          factory.createToken(ts.SyntaxKind.ImportKeyword) as ts.Expression,
          undefined,
          [
            factory.createStringLiteral(resolveSpecifier(specifier, baseUrl)),
            ...attributes,
          ],
        ),
      ),
      factory.createStringLiteral(specifier),
      factory.createArrayLiteralExpression(
        needed.map((name) => factory.createStringLiteral(name)),
      ),
    ],
  );
  const load = ts.setTextRange(factory.createAwaitExpression(call), node);
  if (bindings.length === 0) {
    const statement = factory.createExpressionStatement(load);
    return { statement: ts.setTextRange(statement, node), bindings };
  }
  const pattern = factory.createObjectBindingPattern([
    ...bindings.map(({ imported, local }) =>
      factory.createBindingElement(
        undefined,
        factory.createStringLiteral(imported),
        local,
      )
    ),
  ]);
  const statement = factory.createVariableStatement(
    undefined,
    factory.createVariableDeclarationList(
      [factory.createVariableDeclaration(pattern, undefined, undefined, load)],
      ts.NodeFlags.Let,
    ),
  );
  return { statement: ts.setTextRange(statement, node), bindings };
}

/** `with { type: "json" }` as the second argument of a dynamic import. */
function attributesOf(
  factory: ts.NodeFactory,
  node: ts.ImportDeclaration,
): ts.Expression[] {
  const elements = node.attributes?.elements ?? [];
  if (elements.length === 0) return [];
  const properties = elements.map(({ name, value }) =>
    factory.createPropertyAssignment(
      factory.createStringLiteral(name.text),
      factory.createStringLiteral((value as ts.StringLiteral).text),
    )
  );
  return [factory.createObjectLiteralExpression([
    factory.createPropertyAssignment(
      "with",
      factory.createObjectLiteralExpression(properties),
    ),
  ])];
}

/** Rewrites `import("./x.ts")` and `import.meta`, at any depth. */
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
      ? factory.createStringLiteral(resolveSpecifier(first.text, baseUrl))
      : factory.createCallExpression(
        factory.createIdentifier(names.resolve),
        undefined,
        [first],
      );
    return factory.updateCallExpression(
      visited,
      visited.expression,
      undefined,
      [target, ...rest],
    );
  };
  return visit;
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

function refuseRequire(
  file: ts.SourceFile,
  node: ts.ImportEqualsDeclaration,
): void {
  if (!ts.isExternalModuleReference(node.moduleReference)) return;
  const { line, character } = file.getLineAndCharacterOfPosition(
    node.getStart(file),
  );
  throw new CellSyntaxError(
    `Cannot import with 'require': write import * as ${node.name.text} from …`,
    line + 1,
    character + 1,
  );
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
