import ts from "typescript";
import { CellSyntaxError } from "./syntax_error.ts";

/** Names at the top of a cell, by whether they may be assigned again. */
export interface TopNames {
  /** Declared with `const` or `import`. */
  readonly constant: ReadonlySet<string>;
  /** Declared in another way. */
  readonly changeable: ReadonlySet<string>;
}

/** The names that a cell declares at its top. */
export function topNames(file: ts.SourceFile): TopNames {
  const constant = new Set<string>();
  const changeable = new Set<string>();
  for (const statement of file.statements) {
    if (ts.isVariableStatement(statement)) {
      const { flags, declarations } = statement.declarationList;
      const set = flags & ts.NodeFlags.Const ? constant : changeable;
      for (const { name } of declarations) addNames(name, set);
    } else if (ts.isImportDeclaration(statement)) {
      const clause = statement.importClause;
      if (clause?.name) constant.add(clause.name.text);
      const named = clause?.namedBindings;
      if (named && ts.isNamespaceImport(named)) constant.add(named.name.text);
      if (named && ts.isNamedImports(named)) {
        for (const { name } of named.elements) constant.add(name.text);
      }
    } else if (
      (ts.isFunctionDeclaration(statement) ||
        ts.isClassDeclaration(statement) || ts.isEnumDeclaration(statement)) &&
      statement.name
    ) {
      changeable.add(statement.name.text);
    }
  }
  return { constant, changeable };
}

/**
 * Finds assignments to constants. Compiled cells declare constants with `let`,
 * so that a later cell may declare the name in any way; the check is made here
 * instead.
 *
 * @param file The cell.
 * @param known Constants of earlier cells.
 * @throws {CellSyntaxError} If a constant is assigned.
 */
export function checkConstants(
  file: ts.SourceFile,
  known: ReadonlySet<string>,
): void {
  const own = topNames(file);
  const elsewhere = new Set<string>(own.changeable);
  const assigned: ts.Identifier[] = [];
  const visit = (node: ts.Node, top: boolean): void => {
    if (!top && ts.isVariableDeclaration(node)) addNames(node.name, elsewhere);
    if (ts.isParameter(node)) addNames(node.name, elsewhere);
    if (
      !top && (ts.isFunctionLike(node) || ts.isClassLike(node)) &&
      node.name && ts.isIdentifier(node.name)
    ) elsewhere.add(node.name.text);
    const target = assignmentTarget(node);
    if (target) collectTargets(target, assigned);
    const still = top &&
      (ts.isVariableStatement(node) || ts.isVariableDeclarationList(node));
    ts.forEachChild(node, (child) => visit(child, still));
  };
  for (const statement of file.statements) visit(statement, true);
  const wrong = assigned.find(({ text }) =>
    !elsewhere.has(text) && (own.constant.has(text) || known.has(text))
  );
  if (!wrong) return;
  const { line, character } = file.getLineAndCharacterOfPosition(
    wrong.getStart(file),
  );
  throw new CellSyntaxError(
    `Cannot assign to '${wrong.text}' as it is a constant: declare it with 'let'`,
    line + 1,
    character + 1,
  );
}

function assignmentTarget(node: ts.Node): ts.Expression | null {
  if (
    ts.isBinaryExpression(node) &&
    node.operatorToken.kind >= ts.SyntaxKind.FirstAssignment &&
    node.operatorToken.kind <= ts.SyntaxKind.LastAssignment
  ) return node.left;
  if (
    (ts.isPrefixUnaryExpression(node) || ts.isPostfixUnaryExpression(node)) &&
    (node.operator === ts.SyntaxKind.PlusPlusToken ||
      node.operator === ts.SyntaxKind.MinusMinusToken)
  ) return node.operand;
  if (
    (ts.isForInStatement(node) || ts.isForOfStatement(node)) &&
    ts.isExpression(node.initializer)
  ) return node.initializer;
  return null;
}

function collectTargets(node: ts.Node, found: ts.Identifier[]): void {
  if (ts.isIdentifier(node)) found.push(node);
  else if (ts.isParenthesizedExpression(node) || ts.isSpreadElement(node)) {
    collectTargets(node.expression, found);
  } else if (ts.isArrayLiteralExpression(node)) {
    for (const item of node.elements) collectTargets(item, found);
  } else if (ts.isObjectLiteralExpression(node)) {
    for (const item of node.properties) {
      if (ts.isShorthandPropertyAssignment(item)) found.push(item.name);
      if (ts.isPropertyAssignment(item)) {
        collectTargets(item.initializer, found);
      }
    }
  } else if (ts.isBinaryExpression(node)) collectTargets(node.left, found);
}

function addNames(name: ts.BindingName, set: Set<string>): void {
  if (ts.isIdentifier(name)) {
    set.add(name.text);
    return;
  }
  for (const element of name.elements) {
    if (ts.isBindingElement(element)) addNames(element.name, set);
  }
}
