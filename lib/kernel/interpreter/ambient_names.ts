import ts from "typescript";

/**
 * Names by which modules find out where they run, beside those that the global
 * scope has anyway. A cell may declare them, such as a `window` of a spectrum,
 * but modules must not see it: they share the scope in which cells declare.
 */
const probedNames = [
  ...["window", "self", "global", "document", "location", "navigator"],
  ...["process", "Buffer", "require", "module", "exports", "define", "root"],
  ...["name", "parent", "top", "Image", "HTMLElement", "importScripts"],
];

let ambient: ReadonlySet<string> | null = null;

/** Names that modules may look for in the global scope. */
export function ambientNames(): ReadonlySet<string> {
  return ambient ??= new Set([
    ...Object.getOwnPropertyNames(globalThis),
    ...probedNames,
  ]);
}

/** Invisible, and allowed within names: the name reads as before. */
const mark = "\u200c";

/** The name under which a cell's own declaration is kept from modules. */
export function hiddenName(name: string): string {
  return name + mark;
}

/** A name as the person typed it. */
export function shownName(name: string): string {
  return name.replaceAll(mark, "");
}

/**
 * Renames the given names wherever a cell declares or uses them as variables.
 *
 * @param names Names to hide.
 * @returns A transformer for `transpileCell`, to run first.
 */
export function hideNames(
  names: ReadonlySet<string>,
): ts.TransformerFactory<ts.SourceFile> {
  return (context) => (file) => {
    if (names.size === 0) return file;
    const { factory } = context;
    const hidden = (node: ts.Identifier) =>
      ts.setTextRange(
        factory.createIdentifier(hiddenName(node.text)),
        node,
      );
    const isHidden = (node: ts.Node | undefined): node is ts.Identifier =>
      node !== undefined && ts.isIdentifier(node) && names.has(node.text);
    const visit: ts.Visitor = (node) => {
      if (ts.isShorthandPropertyAssignment(node) && isHidden(node.name)) {
        // `{ a }`, or `{ a = 1 }` where it is a pattern.
        const fallback = node.objectAssignmentInitializer;
        const value = hidden(node.name);
        return factory.createPropertyAssignment(
          node.name.text,
          fallback
            ? factory.createAssignment(
              value,
              ts.visitNode(fallback, visit) as ts.Expression,
            )
            : value,
        );
      }
      if (ts.isBindingElement(node) && isHidden(node.name)) {
        const inObject = ts.isObjectBindingPattern(node.parent) &&
          !node.dotDotDotToken;
        return factory.updateBindingElement(
          node,
          node.dotDotDotToken,
          node.propertyName ??
            (inObject ? factory.createIdentifier(node.name.text) : undefined),
          hidden(node.name),
          node.initializer &&
            ts.visitNode(node.initializer, visit) as ts.Expression,
        );
      }
      if (ts.isImportSpecifier(node) && isHidden(node.name)) {
        return factory.updateImportSpecifier(
          node,
          node.isTypeOnly,
          node.propertyName ?? factory.createIdentifier(node.name.text),
          hidden(node.name),
        );
      }
      if (isHidden(node) && !isMemberName(node)) return hidden(node);
      return ts.visitEachChild(node, visit, context);
    };
    return ts.visitEachChild(file, visit, context);
  };
}

/** Whether an identifier names a member, a label or a type, not a variable. */
function isMemberName(node: ts.Identifier): boolean {
  const { parent } = node;
  if (parent === undefined) return false;
  if (ts.isPropertyAccessExpression(parent) || ts.isMetaProperty(parent)) {
    return parent.name === node;
  }
  if (ts.isQualifiedName(parent)) return parent.right === node;
  if (ts.isBindingElement(parent)) return parent.propertyName === node;
  if (ts.isImportSpecifier(parent)) return parent.propertyName === node;
  if (
    ts.isLabeledStatement(parent) || ts.isBreakOrContinueStatement(parent)
  ) return parent.label === node;
  const member = ts.isPropertyAssignment(parent) ||
    ts.isMethodDeclaration(parent) || ts.isPropertyDeclaration(parent) ||
    ts.isAccessor(parent) || ts.isEnumMember(parent) ||
    ts.isTypeElement(parent);
  return member && parent.name === node;
}
