import ts from "typescript";
import { declarationsOf, docOf, signatureOf } from "./declarations.ts";

/** What is known of an export of a module without running it. */
export interface ExportDoc {
  readonly name: string;
  readonly kind: "function" | "class" | "interface" | "type" | "constant";
  /** Declaration without bodies. */
  readonly signature: string;
  /** Doc comment without its stars; empty where there is none. */
  readonly doc: string;
  /** The whole declaration as written. */
  readonly source: string;
  /** Names that an options object may have, with their docs. */
  readonly options: readonly { name: string; doc: string }[];
}

/**
 * Finds what modules export, and its docs, from their text. Nothing is run.
 * Files are read when they are asked for and kept until they change.
 */
export class ModuleIndex {
  readonly #files = new Map<string, { time: number; file: ts.SourceFile }>();

  /** @param resolve Turns a specifier into a URL. */
  constructor(private readonly resolve: (specifier: string) => string) {}

  /** Names that a module exports; empty where its text cannot be had. */
  names(specifier: string): string[] {
    const names = new Set<string>();
    this.#collect(this.#url(specifier), names, new Set());
    names.delete("default");
    return [...names].sort();
  }

  /** What is known of one export; `null` where nothing is. */
  find(specifier: string, name: string): ExportDoc | null {
    const found = this.#find(this.#url(specifier), name, new Set());
    if (!found) return null;
    const { file, node } = found;
    return {
      name,
      kind: kindOf(node),
      signature: signatureOf(node, file),
      doc: docOf(node, file),
      source: node.getText(file),
      options: this.#options(node, file),
    };
  }

  #url(specifier: string): string | null {
    try {
      return this.resolve(specifier);
    } catch {
      return null;
    }
  }

  #file(url: string | null): ts.SourceFile | null {
    if (!url?.startsWith("file:") || !/\.[cm]?[jt]s$/.test(url)) return null;
    try {
      const path = new URL(url);
      const time = Deno.statSync(path).mtime?.getTime() ?? 0;
      const known = this.#files.get(url);
      if (known?.time === time) return known.file;
      const text = Deno.readTextFileSync(path);
      const file = ts.createSourceFile(url, text, ts.ScriptTarget.ESNext, true);
      this.#files.set(url, { time, file });
      return file;
    } catch {
      return null;
    }
  }

  #collect(url: string | null, names: Set<string>, seen: Set<string>): void {
    const file = this.#file(url);
    if (!file || seen.has(url!)) return;
    seen.add(url!);
    for (const statement of file.statements) {
      if (ts.isExportDeclaration(statement)) {
        const clause = statement.exportClause;
        if (clause && ts.isNamedExports(clause)) {
          for (const { name } of clause.elements) names.add(name.text);
        } else if (clause) {
          names.add(clause.name.text);
        } else {
          this.#collect(targetOf(statement, url!), names, seen);
        }
      } else if (isExported(statement)) {
        for (const { name } of declarationsOf(statement)) names.add(name);
      }
    }
  }

  #find(
    url: string | null,
    name: string,
    seen: Set<string>,
  ): { file: ts.SourceFile; node: ts.Node } | null {
    const file = this.#file(url);
    if (!file || seen.has(`${url} ${name}`)) return null;
    seen.add(`${url} ${name}`);
    for (const statement of file.statements) {
      if (ts.isExportDeclaration(statement)) {
        const target = targetOf(statement, url!);
        const clause = statement.exportClause;
        if (clause && ts.isNamedExports(clause)) {
          const element = clause.elements.find((item) =>
            item.name.text === name
          );
          if (!element) continue;
          const original = (element.propertyName ?? element.name).text;
          return target === null
            ? this.#local(file, original)
            : this.#find(target, original, seen);
        }
        if (!clause) {
          const found = this.#find(target, name, seen);
          if (found) return found;
        }
        continue;
      }
      if (!isExported(statement)) continue;
      const found = declarationsOf(statement).find((item) =>
        item.name === name
      );
      if (found) return { file, node: found.node };
    }
    return null;
  }

  /** A declaration of the file, or what the file imports under the name. */
  #local(
    file: ts.SourceFile,
    name: string,
  ): { file: ts.SourceFile; node: ts.Node } | null {
    for (const statement of file.statements) {
      const own = declarationsOf(statement).find((item) => item.name === name);
      if (own) return { file, node: own.node };
      if (!ts.isImportDeclaration(statement)) continue;
      const named = statement.importClause?.namedBindings;
      if (!named || !ts.isNamedImports(named)) continue;
      const element = named.elements.find((item) => item.name.text === name);
      if (!element) continue;
      const target = targetOf(statement, file.fileName);
      const original = (element.propertyName ?? element.name).text;
      return this.#find(target, original, new Set());
    }
    return null;
  }

  /** Members of the interface of the last parameter. */
  #options(node: ts.Node, file: ts.SourceFile): ExportDoc["options"] {
    if (!ts.isFunctionDeclaration(node)) return [];
    const type = node.parameters.at(-1)?.type;
    if (!type || !ts.isTypeReferenceNode(type)) return [];
    const found = this.#local(file, type.typeName.getText(file));
    return found ? this.#members(found, 0) : [];
  }

  #members(
    { file, node }: { file: ts.SourceFile; node: ts.Node },
    depth: number,
  ): { name: string; doc: string }[] {
    if (depth > 6) return [];
    const ofType = (type: ts.TypeNode): { name: string; doc: string }[] => {
      if (ts.isIntersectionTypeNode(type)) return type.types.flatMap(ofType);
      if (ts.isTypeLiteralNode(type)) return membersOf(type, file);
      if (!ts.isTypeReferenceNode(type)) return [];
      const name = type.typeName.getText(file);
      // Partial<A>, Omit<A, …>: those of A, near enough for a hint.
      const inner = type.typeArguments?.[0];
      if (/^(Partial|Required|Readonly|Omit|Pick)$/.test(name) && inner) {
        return ofType(inner);
      }
      const found = this.#local(file, name);
      return found ? this.#members(found, depth + 1) : [];
    };
    if (ts.isTypeAliasDeclaration(node)) return ofType(node.type);
    if (!ts.isInterfaceDeclaration(node)) return [];
    const inherited = (node.heritageClauses ?? []).flatMap(({ types }) =>
      types.flatMap(({ expression, typeArguments }) => {
        const name = expression.getText(file);
        const inner = typeArguments?.[0];
        if (/^(Partial|Required|Readonly|Omit|Pick)$/.test(name) && inner) {
          return ofType(inner);
        }
        const base = this.#local(file, name);
        return base ? this.#members(base, depth + 1) : [];
      })
    );
    return [...membersOf(node, file), ...inherited];
  }
}

function membersOf(
  { members }: ts.InterfaceDeclaration | ts.TypeLiteralNode,
  file: ts.SourceFile,
): { name: string; doc: string }[] {
  return members.flatMap((member) =>
    member.name && ts.isIdentifier(member.name)
      ? [{ name: member.name.text, doc: docOf(member, file) }]
      : []
  );
}

function isExported(statement: ts.Statement): boolean {
  return ts.canHaveModifiers(statement) &&
    (ts.getModifiers(statement) ?? []).some(({ kind }) =>
      kind === ts.SyntaxKind.ExportKeyword
    );
}

function targetOf(
  { moduleSpecifier }: ts.ExportDeclaration | ts.ImportDeclaration,
  url: string,
): string | null {
  if (!moduleSpecifier || !ts.isStringLiteral(moduleSpecifier)) return null;
  const { text } = moduleSpecifier;
  return /^\.{0,2}\//.test(text) ? new URL(text, url).href : null;
}

function kindOf(node: ts.Node): ExportDoc["kind"] {
  if (ts.isFunctionDeclaration(node)) return "function";
  if (ts.isClassDeclaration(node)) return "class";
  if (ts.isInterfaceDeclaration(node)) return "interface";
  return ts.isTypeAliasDeclaration(node) ? "type" : "constant";
}
