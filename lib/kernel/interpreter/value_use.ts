import ts from "typescript";

/**
 * Whether a name is used as a value somewhere in a cell, apart from its import.
 * A name that is only used as a type need not exist when the cell runs.
 */
export function isValueUsed(file: ts.SourceFile, name: string): boolean {
  let used = false;
  const visit = (node: ts.Node): void => {
    if (
      used || ts.isTypeNode(node) && !ts.isExpressionWithTypeArguments(node) ||
      ts.isInterfaceDeclaration(node) || ts.isTypeAliasDeclaration(node) ||
      ts.isImportDeclaration(node)
    ) return;
    if (ts.isIdentifier(node) && node.text === name) {
      used = !isPropertyName(node);
      return;
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  return used;
}

function isPropertyName(node: ts.Identifier): boolean {
  const parent = node.parent;
  return parent !== undefined && (
    ts.isPropertyAccessExpression(parent) && parent.name === node ||
    ts.isPropertyAssignment(parent) && parent.name === node ||
    ts.isMethodDeclaration(parent) && parent.name === node ||
    ts.isPropertyDeclaration(parent) && parent.name === node
  );
}
