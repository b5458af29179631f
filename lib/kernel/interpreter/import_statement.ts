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
 * A static import as a statement of a script, and the names it brings; `null`
 * for an import of types.
 */
export function importStatement(
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
            importAddress(factory, resolveSpecifier(specifier, baseUrl)),
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

/** A local module may have been edited since it was loaded. */
export function importAddress(
  factory: ts.NodeFactory,
  address: string,
): ts.Expression {
  const text = factory.createStringLiteral(address);
  return address.startsWith("file:")
    ? factory.createCallExpression(
      factory.createIdentifier(names.fresh),
      undefined,
      [text],
    )
    : text;
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

/** Throws for `import x = require(…)`, which has no meaning in a notebook. */
export function refuseRequire(
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
