import ts from "typescript";
import { names } from "./names.ts";
import { settledStatements } from "./settled_statements.ts";
import { createVarHoister } from "./var_hoister.ts";

/**
 * Makes the JavaScript of a cell fit for a session that lasts: `var` and
 * `function` become `let` so that every name can be declared again by any kind
 * of declaration; loops and functions count their turns and look for an
 * interrupt each 1024; what is awaited can be rejected by an interrupt; the cell
 * ends when nothing of it runs. Runs after types are removed.
 *
 * @param ordinal Number of the cell in the session, for error locations.
 * @returns A transformer for `transpileCell`.
 */
export function scriptStatements(
  ordinal: number,
): ts.TransformerFactory<ts.SourceFile> {
  return (context) => (file) => {
    const { factory } = context;
    const hoister = createVarHoister(factory);

    const tick = () =>
      factory.createLogicalOr(
        factory.createBitwiseAnd(
          factory.createPrefixIncrement(factory.createIdentifier(names.turns)),
          factory.createNumericLiteral(1023),
        ),
        factory.createCallExpression(
          factory.createIdentifier(names.check),
          undefined,
          [],
        ),
      );
    const tickStatement = () => factory.createExpressionStatement(tick());

    const loopBody = (body: ts.Statement) =>
      ts.isBlock(body)
        ? factory.updateBlock(body, [tickStatement(), ...body.statements])
        : factory.createBlock([tickStatement(), body]);

    const functionBody = (body: ts.Block) => {
      const directives = body.statements.findIndex((item) =>
        !(ts.isExpressionStatement(item) &&
          ts.isStringLiteral(item.expression))
      );
      const at = directives < 0 ? body.statements.length : directives;
      return factory.updateBlock(body, [
        ...body.statements.slice(0, at),
        tickStatement(),
        ...body.statements.slice(at),
      ]);
    };

    const place = (node: ts.Node) => {
      const original = ts.getOriginalNode(node);
      const at = original.pos < 0 ? 0 : original.getStart(file);
      const { line, character } = file.getLineAndCharacterOfPosition(at);
      return [ordinal, line + 1, character + 1].map((value) =>
        factory.createNumericLiteral(value)
      );
    };

    const visitIn = (inFunction: boolean): ts.Visitor => {
      const visit: ts.Visitor = (node) => {
        if (!inFunction) {
          const hoisted = hoister.convert(node);
          if (hoisted !== null) {
            return hoisted === undefined
              ? undefined
              : ts.visitNode(hoisted, visit);
          }
        }
        if (ts.isFunctionLike(node) || ts.isClassStaticBlockDeclaration(node)) {
          return withTick(ts.visitEachChild(node, inside, context));
        }
        return ownWork(ts.visitEachChild(node, visit, context));
      };
      return visit;
    };
    const inside = visitIn(true);

    // deno-lint-ignore no-explicit-any
    const withTick = (node: any): ts.Node => {
      if (node.body === undefined) return node;
      const body = ts.isBlock(node.body)
        ? functionBody(node.body)
        : factory.createParenthesizedExpression(
          factory.createComma(tick(), node.body),
        );
      if (ts.isArrowFunction(node)) {
        return factory.updateArrowFunction(
          node,
          node.modifiers,
          node.typeParameters,
          node.parameters,
          node.type,
          node.equalsGreaterThanToken,
          body,
        );
      }
      const block = body as ts.Block;
      if (ts.isFunctionDeclaration(node)) {
        return factory.updateFunctionDeclaration(
          node,
          node.modifiers,
          node.asteriskToken,
          node.name,
          node.typeParameters,
          node.parameters,
          node.type,
          block,
        );
      }
      if (ts.isFunctionExpression(node)) {
        return factory.updateFunctionExpression(
          node,
          node.modifiers,
          node.asteriskToken,
          node.name,
          node.typeParameters,
          node.parameters,
          node.type,
          block,
        );
      }
      if (ts.isMethodDeclaration(node)) {
        return factory.updateMethodDeclaration(
          node,
          node.modifiers,
          node.asteriskToken,
          node.name,
          node.questionToken,
          node.typeParameters,
          node.parameters,
          node.type,
          block,
        );
      }
      return node;
    };

    const ownWork = (node: ts.Node): ts.Node => {
      if (ts.isForStatement(node)) {
        return factory.updateForStatement(
          node,
          node.initializer,
          node.condition,
          node.incrementor,
          loopBody(node.statement),
        );
      }
      if (ts.isForInStatement(node)) {
        return factory.updateForInStatement(
          node,
          node.initializer,
          node.expression,
          loopBody(node.statement),
        );
      }
      if (ts.isForOfStatement(node)) {
        return factory.updateForOfStatement(
          node,
          node.awaitModifier,
          node.initializer,
          node.awaitModifier
            ? factory.createCallExpression(
              factory.createIdentifier(names.iterated),
              undefined,
              [node.expression, ...place(node.expression)],
            )
            : node.expression,
          loopBody(node.statement),
        );
      }
      if (ts.isWhileStatement(node)) {
        return factory.updateWhileStatement(
          node,
          node.expression,
          loopBody(node.statement),
        );
      }
      if (ts.isDoStatement(node)) {
        return factory.updateDoStatement(
          node,
          loopBody(node.statement),
          node.expression,
        );
      }
      if (ts.isAwaitExpression(node)) {
        return factory.updateAwaitExpression(
          node,
          factory.createCallExpression(
            factory.createIdentifier(names.awaited),
            undefined,
            [node.expression, ...place(node)],
          ),
        );
      }
      return node;
    };

    const outside = visitIn(false);
    const functions: ts.Statement[] = [];
    const statements: ts.Statement[] = [];
    for (const statement of file.statements) {
      if (ts.isExportDeclaration(statement)) continue;
      const visited = ts.visitNode(statement, outside) as
        | ts.Statement
        | undefined;
      if (visited === undefined) continue;
      if (ts.isFunctionDeclaration(visited) && visited.name) {
        functions.push(functionAsLet(factory, visited, visited.name));
      } else if (ts.isVariableStatement(visited)) {
        statements.push(constAsLet(factory, visited));
      } else {
        statements.push(visited);
      }
    }
    const declared = hoister.names.size === 0 ? [] : [
      factory.createVariableStatement(
        undefined,
        factory.createVariableDeclarationList(
          [...hoister.names].map((name) =>
            factory.createVariableDeclaration(name)
          ),
          ts.NodeFlags.Let,
        ),
      ),
    ];
    return factory.updateSourceFile(file, [
      ...declared,
      ...functions,
      ...settledStatements(factory, statements),
    ]);
  };
}

/** `function f() {}` → `let f = function () {}`, which keeps the name. */
function functionAsLet(
  factory: ts.NodeFactory,
  node: ts.FunctionDeclaration,
  name: ts.Identifier,
): ts.Statement {
  const value = factory.createFunctionExpression(
    node.modifiers?.filter(ts.isModifier),
    node.asteriskToken,
    undefined,
    node.typeParameters,
    node.parameters,
    node.type,
    node.body ?? factory.createBlock([]),
  );
  return factory.createVariableStatement(
    undefined,
    factory.createVariableDeclarationList(
      [factory.createVariableDeclaration(
        name,
        undefined,
        undefined,
        ts.setTextRange(value, node),
      )],
      ts.NodeFlags.Let,
    ),
  );
}

/** Constants are checked before; the engine must let them be declared again. */
function constAsLet(
  factory: ts.NodeFactory,
  node: ts.VariableStatement,
): ts.Statement {
  const { flags, declarations } = node.declarationList;
  if ((flags & ts.NodeFlags.BlockScoped) !== ts.NodeFlags.Const) return node;
  return factory.updateVariableStatement(
    node,
    undefined,
    ts.setTextRange(
      factory.createVariableDeclarationList(declarations, ts.NodeFlags.Let),
      node.declarationList,
    ),
  );
}
