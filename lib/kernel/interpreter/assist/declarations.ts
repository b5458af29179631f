import ts from "typescript";

/** Declarations of a statement by name. */
export function declarationsOf(
  statement: ts.Statement,
): { name: string; node: ts.Node }[] {
  if (ts.isVariableStatement(statement)) {
    return statement.declarationList.declarations.flatMap(({ name }) =>
      ts.isIdentifier(name) ? [{ name: name.text, node: statement }] : []
    );
  }
  const named = ts.isFunctionDeclaration(statement) ||
    ts.isClassDeclaration(statement) || ts.isInterfaceDeclaration(statement) ||
    ts.isTypeAliasDeclaration(statement) || ts.isEnumDeclaration(statement);
  return named && statement.name
    ? [{ name: statement.name.text, node: statement }]
    : [];
}

/** A declaration without its doc comment and bodies. */
export function signatureOf(node: ts.Node, file: ts.SourceFile): string {
  const text = node.getText(file);
  const cut = (end: number) =>
    text.slice(0, end - node.getStart(file)).trimEnd();
  if (ts.isFunctionDeclaration(node) && node.body) {
    return cut(node.body.getStart(file)).replace(/^export (default )?/, "");
  }
  if (ts.isVariableStatement(node)) {
    const [first] = node.declarationList.declarations;
    const value = first?.initializer;
    if (value && ts.isFunctionLike(value) && "body" in value && value.body) {
      return cut((value.body as ts.Node).getStart(file))
        .replace(/\s*=>$/, "").replace(/^export /, "");
    }
    if (value && first.type) {
      return cut(value.getFullStart()).replace(/\s*=$/, "")
        .replace(/^export /, "");
    }
  }
  if (ts.isClassDeclaration(node)) {
    const head = text.slice(0, text.indexOf("{") + 1).replace(/^export /, "");
    const members = node.members.flatMap((member) => {
      const hidden = ts.canHaveModifiers(member) &&
          ts.getModifiers(member)?.some(({ kind }) =>
            kind === ts.SyntaxKind.PrivateKeyword
          ) || member.name && ts.isPrivateIdentifier(member.name);
      if (hidden) return [];
      const body = "body" in member ? member.body as ts.Node | undefined : null;
      const own = body
        ? file.text.slice(member.getStart(file), body.getStart(file)).trimEnd()
        : member.getText(file);
      return [`  ${own}`];
    });
    return [head, ...members, "}"].join("\n");
  }
  return text.replace(/^export /, "");
}

/** The doc comment of a declaration, without its stars. */
export function docOf(node: ts.Node, file: ts.SourceFile): string {
  const ranges = ts.getLeadingCommentRanges(file.text, node.getFullStart());
  const last = ranges?.findLast(({ pos }) => file.text.startsWith("/**", pos));
  if (!last) return "";
  return file.text.slice(last.pos + 3, last.end - 2).split("\n")
    .map((line) => line.replace(/^\s*\* ?/, "")).join("\n").trim();
}
