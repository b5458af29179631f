import { dirname, fromFileUrl } from "@std/path";
import ts from "typescript";
import type { Completion } from "../../protocol/interpreter.ts";
import { isInternalName } from "../names.ts";
import { codePointsOf, unitsOf } from "./code_points.ts";
import { type CursorPlace, cursorPlace } from "./cursor.ts";
import { type AssistSources, importOf } from "./sources.ts";

/** One thing that may be typed. */
interface Candidate {
  readonly text: string;
  /** What it is: `function`, `property`, `module`, … */
  readonly type: string;
  /** The statement that it needs at the top of the cell. */
  readonly signature?: string;
}

const mostMatches = 500;

/**
 * Completes what is typed at the cursor. Runs nothing that could have an
 * effect.
 *
 * @param code The cell.
 * @param cursor In Unicode code points.
 * @param sources What the session knows.
 */
export async function complete(
  code: string,
  cursor: number,
  sources: AssistSources,
): Promise<Completion> {
  const at = unitsOf(code, cursor);
  const end = codePointsOf(code, at);
  const place = cursorPlace(code, at);
  if (place.kind === "none") {
    return { matches: [], cursorStart: end, cursorEnd: end, metadata: {} };
  }
  const candidates = await candidatesOf(place, code, sources);
  const shown = matching(candidates, place.partial).slice(0, mostMatches);
  const start = shown.length === 0 ? end : codePointsOf(code, place.from);
  return {
    matches: shown.map(({ text }) => text),
    cursorStart: start,
    cursorEnd: end,
    metadata: {
      _jupyter_types_experimental: shown.map((candidate) => ({
        start,
        end,
        ...candidate,
      })),
    },
  };
}

function candidatesOf(
  place: Exclude<CursorPlace, { kind: "none" }>,
  code: string,
  sources: AssistSources,
): Promise<Candidate[]> | Candidate[] {
  switch (place.kind) {
    case "member":
      return members(place.target, sources);
    case "module":
      return modules(place.partial, sources);
    case "export":
      return exportsOf(place.specifier, sources);
    case "option":
      return options(place, code, sources);
    default:
      return names(place.partial, code, sources);
  }
}

async function members(
  target: string,
  sources: AssistSources,
): Promise<Candidate[]> {
  const properties = await sources.properties(target);
  return properties
    .filter(({ name }) =>
      /^[\p{L}_$][\p{L}\p{N}_$]*$/u.test(name) && !/^__.*__$/.test(name)
    )
    .map(({ name, type }) => ({
      text: name,
      type: type === "function" ? "function" : "property",
    }));
}

async function exportsOf(
  specifier: string,
  sources: AssistSources,
): Promise<Candidate[]> {
  const known = sources.index.names(specifier);
  if (known.length > 0) {
    return known.map((text) => ({
      text,
      type: sources.index.find(specifier, text)?.kind ?? "export",
    }));
  }
  const loaded = sources.loaded.get(specifier);
  return loaded
    ? Object.keys(loaded).map((text) => ({ text, type: "export" }))
    : await [];
}

function options(
  { callee, partial }: { callee: string; partial: string },
  code: string,
  sources: AssistSources,
): Promise<Candidate[]> | Candidate[] {
  const origin = sources.originOf(callee, code);
  const doc = origin && sources.index.find(origin.specifier, origin.imported);
  const found = doc?.options ?? [];
  if (found.length === 0) return names(partial, code, sources);
  return found.map(({ name }) => ({ text: name, type: "option" }));
}

async function names(
  partial: string,
  code: string,
  sources: AssistSources,
): Promise<Candidate[]> {
  const file = ts.createSourceFile("cell.ts", code, ts.ScriptTarget.ESNext);
  const own = new Set<string>();
  const visit = (node: ts.Node): void => {
    const named = ts.isVariableDeclaration(node) || ts.isParameter(node) ||
      ts.isFunctionDeclaration(node) || ts.isClassDeclaration(node) ||
      ts.isImportSpecifier(node) || ts.isImportClause(node) ||
      ts.isBindingElement(node) || ts.isEnumDeclaration(node) ||
      ts.isNamespaceImport(node) || ts.isInterfaceDeclaration(node) ||
      ts.isTypeAliasDeclaration(node);
    if (named && node.name && ts.isIdentifier(node.name)) {
      own.add(node.name.text);
    }
    ts.forEachChild(node, visit);
  };
  visit(file);
  own.delete("");
  const lexical = await sources.names();
  const global = await sources.properties("globalThis");
  const list: Candidate[] = [
    ...[...own].map((text) => ({ text, type: "variable" })),
    ...lexical.map((text) => ({ text, type: "variable" })),
    ...global.map(({ name, type }) => ({
      text: name,
      type: type === "function" ? "function" : "variable",
    })),
    ...keywords.map((text) => ({ text, type: "keyword" })),
    ...notImported(partial, sources),
  ];
  return list.filter(({ text }) =>
    !isInternalName(text) && /^[\p{L}_$][\p{L}\p{N}_$]*$/u.test(text)
  );
}

/**
 * What the project exports and the cell has not imported. A reply can only put
 * text at the cursor: the import that is needed is told beside the name.
 */
function notImported(partial: string, sources: AssistSources): Candidate[] {
  const { doors, index } = sources;
  if (partial.length < 2) return [];
  const lower = partial.toLowerCase();
  const found = new Map<string, string>();
  for (const door of doors) {
    for (const name of index.names(door)) {
      if (name.toLowerCase().startsWith(lower) && !found.has(name)) {
        found.set(name, door);
      }
    }
  }
  return [...found]
    .map(([text, door]) => ({
      text,
      type: index.find(door, text)?.kind ?? "export",
      signature: importOf(text, door),
    }))
    .filter(({ type }) => type !== "interface" && type !== "type");
}

/** Mapped names, and files beside the notebook. */
function modules(partial: string, sources: AssistSources): Candidate[] {
  if (!/^\.{0,2}\//.test(partial)) {
    return sources.mapped.map((text) => ({ text, type: "module" }));
  }
  const folder = partial.slice(0, partial.lastIndexOf("/") + 1);
  const path = dirname(fromFileUrl(new URL(`${folder}x`, sources.baseUrl)));
  try {
    return [...Deno.readDirSync(path)]
      .filter(({ name, isDirectory }) =>
        !name.startsWith(".") &&
        (isDirectory || /\.([cm]?[jt]sx?|json)$/.test(name))
      )
      .map(({ name, isDirectory }) => ({
        text: `${folder}${name}${isDirectory ? "/" : ""}`,
        type: isDirectory ? "folder" : "module",
      }))
      .sort((a, b) => a.text < b.text ? -1 : 1);
  } catch {
    return [];
  }
}

/** Those that begin as typed; where none does, in any case of letters. */
function matching(candidates: Candidate[], partial: string): Candidate[] {
  const seen = new Set<string>();
  const once = candidates.filter(({ text }) =>
    !seen.has(text) && seen.add(text)
  );
  const exact = once.filter(({ text }) => text.startsWith(partial));
  if (exact.length > 0) return exact;
  const lower = partial.toLowerCase();
  return once.filter(({ text }) => text.toLowerCase().startsWith(lower));
}

const keywords = [
  ...["async", "await", "break", "case", "catch", "class", "const"],
  ...["continue", "default", "delete", "do", "else", "enum", "export"],
  ...["extends", "false", "finally", "for", "from", "function", "if"],
  ...["import", "in", "instanceof", "interface", "let", "new", "null", "of"],
  ...["return", "static", "super", "switch", "this", "throw", "true", "try"],
  ...["type", "typeof", "undefined", "void", "while", "yield"],
];
