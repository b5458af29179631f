import ts from "typescript";

/** What stands at the cursor, for completion. */
export type CursorPlace =
  /** `target.par|` */
  | { kind: "member"; target: string; partial: string; from: number }
  /** `par|` */
  | { kind: "name"; partial: string; from: number }
  /** `from "par|"` */
  | { kind: "module"; partial: string; from: number }
  /** `import { par| } from "specifier"` */
  | { kind: "export"; specifier: string; partial: string; from: number }
  /** `call(…, { par| })` */
  | { kind: "option"; callee: string; partial: string; from: number }
  | { kind: "none" };

/**
 * Finds what is being typed.
 *
 * @param code The cell.
 * @param cursor Offset in UTF-16 units.
 */
export function cursorPlace(code: string, cursor: number): CursorPlace {
  const file = ts.createSourceFile(
    "cell.ts",
    code,
    ts.ScriptTarget.ESNext,
    true,
  );
  const partial = /[\p{L}\p{N}_$]*$/u.exec(code.slice(0, cursor))![0];
  const from = cursor - partial.length;
  const node = nodeAt(file, from);
  const literal = ts.isStringLiteralLike(node) ? node : null;
  if (literal && isModuleSpecifier(literal)) {
    const start = literal.getStart(file) + 1;
    return {
      kind: "module",
      partial: code.slice(start, cursor),
      from: start,
    };
  }
  if (literal || inComment(code, cursor)) return { kind: "none" };
  const before = code.slice(0, from).trimEnd();
  if (/\.$/.test(before) && !/\d\.$/.test(before)) {
    const dot = before.endsWith("?.") ? 2 : 1;
    const target = expressionBefore(code, before.length - dot);
    return target === null
      ? { kind: "none" }
      : { kind: "member", target, partial, from };
  }
  const clause = ancestor(node, ts.isNamedImports);
  if (clause) {
    const specifier = clause.parent.parent.moduleSpecifier;
    if (ts.isStringLiteral(specifier)) {
      return { kind: "export", specifier: specifier.text, partial, from };
    }
  }
  const option = optionPlace(
    nodeAt(file, Math.max(0, before.length - 1)),
    from,
  );
  if (option !== null) return { kind: "option", callee: option, partial, from };
  return { kind: "name", partial, from };
}

/**
 * The name or chain of names that the cursor is in or behind, for inspection;
 * within the brackets of a call, the function called.
 */
export function nameAt(code: string, cursor: number): string | null {
  const file = ts.createSourceFile(
    "cell.ts",
    code,
    ts.ScriptTarget.ESNext,
    true,
  );
  for (const at of [cursor, cursor - 1]) {
    if (at < 0) continue;
    const node = nodeAt(file, at);
    if (!ts.isIdentifier(node) || at > node.getEnd()) continue;
    const { parent } = node;
    const whole = ts.isPropertyAccessExpression(parent) && parent.name === node
      ? parent
      : node;
    if (isPlain(whole)) return whole.getText(file);
  }
  const call = ancestor(
    nodeAt(file, Math.max(0, cursor - 1)),
    ts.isCallExpression,
  );
  return call && isPlain(call.expression)
    ? call.expression.getText(file)
    : null;
}

/** Whether reading an expression can have no effect of its own. */
function isPlain(node: ts.Node): boolean {
  if (
    ts.isIdentifier(node) || node.kind === ts.SyntaxKind.ThisKeyword ||
    ts.isStringLiteralLike(node) || ts.isNumericLiteral(node)
  ) return true;
  if (ts.isPropertyAccessExpression(node) || ts.isNonNullExpression(node)) {
    return isPlain(node.expression);
  }
  if (ts.isParenthesizedExpression(node)) return isPlain(node.expression);
  if (ts.isArrayLiteralExpression(node)) return node.elements.every(isPlain);
  return ts.isElementAccessExpression(node) && isPlain(node.expression) &&
    isPlain(node.argumentExpression);
}

/** The plain expression that ends at an offset. */
function expressionBefore(code: string, end: number): string | null {
  const text = code.slice(0, end);
  const file = ts.createSourceFile(
    "cell.ts",
    text,
    ts.ScriptTarget.ESNext,
    true,
  );
  let node = nodeAt(file, Math.max(0, text.trimEnd().length - 1));
  let best: ts.Node | null = null;
  while (node && !ts.isSourceFile(node)) {
    if (node.getEnd() <= text.trimEnd().length && isPlain(node)) best = node;
    node = node.parent;
  }
  return best?.getText(file) ?? null;
}

function nodeAt(file: ts.SourceFile, position: number): ts.Node {
  let found: ts.Node = file;
  const visit = (node: ts.Node): void => {
    if (node.kind === ts.SyntaxKind.EndOfFileToken) return;
    if (position < node.getFullStart() || position > node.getEnd()) return;
    if (node.getStart(file) <= position) found = node;
    ts.forEachChild(node, visit);
  };
  ts.forEachChild(file, visit);
  return found;
}

function ancestor<T extends ts.Node>(
  node: ts.Node,
  is: (node: ts.Node) => node is T,
): T | null {
  for (let at: ts.Node | undefined = node; at; at = at.parent) {
    if (is(at)) return at;
  }
  return null;
}

function isModuleSpecifier({ parent }: ts.StringLiteralLike): boolean {
  return ts.isImportDeclaration(parent) || ts.isExportDeclaration(parent) ||
    ts.isCallExpression(parent) &&
      parent.expression.kind === ts.SyntaxKind.ImportKeyword;
}

/** The function whose options object is being written. */
function optionPlace(node: ts.Node, from: number): string | null {
  const object = ancestor(node, ts.isObjectLiteralExpression);
  if (!object || !ts.isCallExpression(object.parent)) return null;
  // In a value, such as { a: x| }, names are wanted and not options.
  const inValue = object.properties.some((property) =>
    ts.isPropertyAssignment(property) && property.initializer.pos <= from &&
    from <= property.initializer.end
  );
  const { expression } = object.parent;
  return inValue || !isPlain(expression) ? null : expression.getText();
}

function inComment(code: string, at: number): boolean {
  const scanner = ts.createScanner(
    ts.ScriptTarget.ESNext,
    false,
    ts.LanguageVariant.Standard,
    code,
  );
  for (
    let kind = scanner.scan();
    kind !== ts.SyntaxKind.EndOfFileToken;
    kind = scanner.scan()
  ) {
    const comment = kind === ts.SyntaxKind.SingleLineCommentTrivia ||
      kind === ts.SyntaxKind.MultiLineCommentTrivia;
    if (scanner.getTokenStart() >= at) return false;
    const end = scanner.getTokenEnd();
    if (
      comment &&
      (at < end || at === end && /^\/\//.test(scanner.getTokenText()))
    ) {
      return true;
    }
  }
  return false;
}
