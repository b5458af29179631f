import ts from "typescript";

/** Turns `var` declarations outside of functions into assignments. */
export interface VarHoister {
  /** The names met so far, to be declared with `let` ahead of the cell. */
  readonly names: Set<string>;
  /**
   * Converts a node that holds a `var`.
   *
   * @returns The new node, `undefined` to drop the node, `null` where the node
   * holds no `var` of its own.
   */
  convert(node: ts.Node): ts.Node | undefined | null;
}

/** Makes a hoister for one cell. */
export function createVarHoister(factory: ts.NodeFactory): VarHoister {
  const names = new Set<string>();

  const target = (name: ts.BindingName): ts.Expression => {
    if (ts.isIdentifier(name)) {
      names.add(name.text);
      return name;
    }
    if (ts.isArrayBindingPattern(name)) {
      return factory.createArrayLiteralExpression(
        name.elements.map((element) =>
          ts.isOmittedExpression(element)
            ? element
            : element.dotDotDotToken
            ? factory.createSpreadElement(target(element.name))
            : withDefault(element)
        ),
      );
    }
    return factory.createObjectLiteralExpression(
      name.elements.map((element) =>
        element.dotDotDotToken
          ? factory.createSpreadAssignment(target(element.name))
          : factory.createPropertyAssignment(
            element.propertyName ?? (element.name as ts.Identifier),
            withDefault(element),
          )
      ),
    );
  };
  const withDefault = (element: ts.BindingElement): ts.Expression =>
    element.initializer
      ? factory.createAssignment(target(element.name), element.initializer)
      : target(element.name);

  const assignments = (list: ts.VariableDeclarationList) => {
    const all = list.declarations.flatMap((declaration) => {
      const left = target(declaration.name);
      return declaration.initializer
        ? [
          ts.setTextRange(
            factory.createAssignment(left, declaration.initializer),
            declaration,
          ),
        ]
        : [];
    });
    return all.length === 0
      ? undefined
      : all.reduce<ts.Expression>((left, right) =>
        left === right ? left : factory.createComma(left, right), all[0]!);
  };

  return {
    names,
    convert(node) {
      if (ts.isVariableStatement(node)) {
        if (!isVar(node.declarationList)) return null;
        const value = assignments(node.declarationList);
        return value &&
          ts.setTextRange(
            factory.createExpressionStatement(
              factory.createParenthesizedExpression(value),
            ),
            node,
          );
      }
      const list = ts.isForStatement(node) || ts.isForInStatement(node) ||
          ts.isForOfStatement(node)
        ? node.initializer
        : undefined;
      if (!list || !ts.isVariableDeclarationList(list) || !isVar(list)) {
        return null;
      }
      if (ts.isForStatement(node)) {
        return factory.updateForStatement(
          node,
          assignments(list),
          node.condition,
          node.incrementor,
          node.statement,
        );
      }
      const left = target(list.declarations[0]!.name);
      if (ts.isForInStatement(node)) {
        return factory.updateForInStatement(
          node,
          left,
          node.expression,
          node.statement,
        );
      }
      const loop = node as ts.ForOfStatement;
      return factory.updateForOfStatement(
        loop,
        loop.awaitModifier,
        left,
        loop.expression,
        loop.statement,
      );
    },
  };
}

function isVar(list: ts.VariableDeclarationList): boolean {
  return (list.flags & ts.NodeFlags.BlockScoped) === 0;
}
