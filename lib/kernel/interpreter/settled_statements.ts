import ts from "typescript";
import { names } from "./names.ts";

/**
 * Makes a cell end, well or by what it throws, only when no promise that it has
 * begun has work to do at once. The engine ends the process where it collects
 * garbage between the end of a script and the promise callbacks that follow it,
 * and callbacks that a cell has not awaited come before its own.
 *
 * @param factory Makes the nodes.
 * @param statements The cell's statements, without `var` and `function`.
 * @returns The same, what may throw in a `try`, and a wait at the end.
 */
export function settledStatements(
  factory: ts.NodeFactory,
  statements: readonly ts.Statement[],
): ts.Statement[] {
  const identifier = (name: string) => factory.createIdentifier(name);
  const settled = () =>
    factory.createExpressionStatement(
      factory.createAwaitExpression(
        factory.createCallExpression(identifier(names.settled), undefined, []),
      ),
    );
  const guarded = (inside: ts.Statement[]): ts.Statement =>
    factory.createTryStatement(
      factory.createBlock(inside, true),
      factory.createCatchClause(
        names.thrown,
        factory.createBlock([
          settled(),
          factory.createThrowStatement(identifier(names.thrown)),
        ]),
      ),
      undefined,
    );
  const hold = (value: ts.Expression) =>
    factory.createExpressionStatement(
      factory.createAssignment(identifier(names.held), value),
    );
  const declare = (
    list: ts.VariableDeclarationList,
    declaration: ts.VariableDeclaration,
  ) =>
    factory.createVariableStatement(
      undefined,
      ts.setTextRange(
        factory.createVariableDeclarationList([declaration], list.flags),
        list,
      ),
    );

  /** `let a = f();` → `try { held = f(); } … let a = held; held = undefined;` */
  const declared = (list: ts.VariableDeclarationList): ts.Statement[] =>
    list.declarations.flatMap((declaration) => {
      const { name, exclamationToken, type, initializer } = declaration;
      if (initializer === undefined || isHarmless(initializer)) {
        return [declare(list, declaration)];
      }
      return [
        guarded([hold(initializer)]),
        declare(
          list,
          factory.updateVariableDeclaration(
            declaration,
            name,
            exclamationToken,
            type,
            identifier(names.held),
          ),
        ),
        hold(factory.createVoidZero()),
      ];
    });

  const result: ts.Statement[] = [];
  let together: ts.Statement[] = [];
  const close = () => {
    if (together.length > 0) result.push(guarded(together));
    together = [];
  };
  for (const statement of statements) {
    if (ts.isVariableStatement(statement)) {
      close();
      result.push(...declared(statement.declarationList));
    } else if (ts.isClassDeclaration(statement)) {
      close();
      result.push(statement);
    } else {
      together.push(statement);
    }
  }
  close();
  return [...result, settled()];
}

/** Whether an expression can neither throw nor take its name elsewhere. */
function isHarmless(node: ts.Expression): boolean {
  let inner = node;
  while (ts.isParenthesizedExpression(inner)) inner = inner.expression;
  return ts.isFunctionExpression(inner) || ts.isArrowFunction(inner) ||
    ts.isClassExpression(inner) || ts.isLiteralExpression(inner);
}
