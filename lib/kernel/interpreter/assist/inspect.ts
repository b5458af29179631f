import ts from "typescript";
import type { Inspection } from "../../protocol/interpreter.ts";
import { inspectText } from "../value_form.ts";
import { unitsOf } from "./code_points.ts";
import { nameAt } from "./cursor.ts";
import { declarationsOf, docOf, signatureOf } from "./declarations.ts";
import type { ExportDoc } from "./module_index.ts";
import { type AssistSources, doorOf, importOf } from "./sources.ts";

const nothing: Inspection = { found: false, data: {}, metadata: {} };

/**
 * Says what is known of the name at the cursor: signature and doc comment of
 * what a module or a cell declares, else the value it has now.
 *
 * @param code The cell.
 * @param cursor In Unicode code points.
 * @param detail 1 adds the source.
 * @param sources What the session knows.
 */
export async function inspect(
  code: string,
  cursor: number,
  detail: 0 | 1,
  sources: AssistSources,
): Promise<Inspection> {
  const name = nameAt(code, unitsOf(code, cursor));
  if (name === null) return nothing;
  const origin = sources.originOf(name, code);
  const declared = origin &&
    sources.index.find(origin.specifier, origin.imported);
  if (origin && declared) {
    return shown(declared, detail, `from "${origin.specifier}"`);
  }
  const inCell = declaredInCell(name, [code, ...sources.cells()]);
  const value = await sources.peek(name);
  if (inCell) {
    return shown(inCell, detail, value ? valueLine(value.value) : "");
  }
  if (!value) {
    const door = doorOf(name, sources);
    const exported = door && sources.index.find(door, name);
    return exported
      ? shown(exported, detail, `not imported: ${importOf(name, door)}`)
      : nothing;
  }
  const signature = valueSignature(name, value.value);
  return shown(
    {
      name,
      kind: "constant",
      signature,
      doc: "",
      source: typeof value.value === "function" ? String(value.value) : "",
      options: [],
    },
    detail,
    valueLine(value.value),
  );
}

/** The newest declaration of a name in the cells. */
function declaredInCell(
  name: string,
  cells: readonly string[],
): ExportDoc | null {
  for (const code of cells) {
    const file = ts.createSourceFile(
      "cell.ts",
      code,
      ts.ScriptTarget.ESNext,
      true,
    );
    for (const statement of file.statements) {
      const found = declarationsOf(statement).find((item) =>
        item.name === name
      );
      if (!found) continue;
      return {
        name,
        kind: "constant",
        signature: signatureOf(found.node, file),
        doc: docOf(found.node, file),
        source: found.node.getText(file),
        options: [],
      };
    }
  }
  return null;
}

function shown(
  { signature, doc, source }: ExportDoc,
  detail: 0 | 1,
  note: string,
): Inspection {
  const short = cutLines(signature, 40);
  const more = detail === 1 && source !== "" && source !== signature
    ? source
    : "";
  const plainDoc = doc.replace(/\{@link(?:code)? ([^}]+)\}/g, "$1");
  const plain = [short, plainDoc, note, more].filter((part) => part !== "");
  const markdown = [
    `\`\`\`ts\n${short}\n\`\`\``,
    docMarkdown(doc),
    note === "" ? "" : `*${note.replaceAll("*", "\\*")}*`,
    more === "" ? "" : `\`\`\`ts\n${more}\n\`\`\``,
  ].filter((part) => part !== "");
  return {
    found: true,
    data: {
      "text/plain": plain.join("\n\n"),
      "text/markdown": markdown.join("\n\n"),
    },
    metadata: {},
  };
}

/** Doc tags as markdown. */
function docMarkdown(doc: string): string {
  return doc
    .replace(/\{@linkcode ([^}]+)\}/g, "`$1`")
    .replace(/\{@link ([^}]+)\}/g, "$1")
    .replace(/^@param (\S+)/gm, "- `$1`:")
    .replace(/^@returns?\b/gm, "\n**Returns**")
    .replace(/^@throws \{(\w+)\}/gm, "\n**Throws** `$1`")
    .replace(/^@default \{(.*)\}$/gm, "\nDefault: `$1`")
    .replace(/^@example\b/gm, "\n**Example**")
    .replace(/^@(\w+)/gm, "\n**$1**");
}

function valueSignature(name: string, value: unknown): string {
  if (typeof value !== "function") {
    return `${name}: ${typeName(value)}`;
  }
  const text = Function.prototype.toString.call(value);
  if (text.startsWith("class")) return `class ${value.name || name}`;
  const head = /^(async\s+)?(function\b\s*\*?\s*[\w$]*\s*)?\(([^)]*)\)/.exec(
    text,
  );
  return head
    ? `${head[1] ?? ""}function ${name}(${head[3]})`
    : `function ${name}(…)`;
}

function valueLine(value: unknown): string {
  if (typeof value === "function") return "";
  try {
    return `now: ${cutLines(inspectText(value).slice(0, 1000), 12)}`;
  } catch {
    return "";
  }
}

function typeName(value: unknown): string {
  if (value === null) return "null";
  if (typeof value !== "object") return typeof value;
  const { name } = (value as object).constructor ?? {};
  const { length } = value as { length?: unknown };
  return typeof length === "number" ? `${name}(${length})` : name || "object";
}

function cutLines(text: string, most: number): string {
  const lines = text.split("\n");
  return lines.length <= most
    ? text
    : [...lines.slice(0, most), "…"].join("\n");
}
