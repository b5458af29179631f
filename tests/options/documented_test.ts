import { describe, expect, it } from "vitest";
import { fromFileUrl } from "@std/path";
import type { OptionSpec } from "../../lib/options/mod.ts";

const lib = new URL("../../lib/", import.meta.url);

/** All TypeScript files below a folder. */
function* files(folder: URL): Generator<URL> {
  for (const { name, isDirectory } of Deno.readDirSync(folder)) {
    if (isDirectory) yield* files(new URL(`${name}/`, folder));
    else if (name.endsWith(".ts")) yield new URL(name, folder);
  }
}

interface Field {
  readonly doc: string;
  readonly optional: boolean;
  /** What stands behind `@default`, `null` where nothing does. */
  readonly byDefault: string | null;
}

/** Fields of all interfaces of the library, with what their comments say. */
const interfaces = new Map<string, Map<string, Field>>();
/** Interfaces and what they extend, as written. */
const parents = new Map<string, string>();
/** Descriptions by the interface that they describe. */
const described: { of: string; spec: string; file: URL }[] = [];

for (const file of files(lib)) {
  const text = Deno.readTextFileSync(file);
  for (
    const [, name, extended = "", body] of text.matchAll(
      /^export (?:interface|type) (\w+)(?:<[^>]*>)?((?: extends| =)[^{]*)? ?\{\n([\s\S]*?)^\}/gm,
    )
  ) {
    const fields = new Map<string, Field>();
    for (
      const [, comment, field, mark] of body!.matchAll(
        /^ {2}\/\*\*([\s\S]*?)\*\/\n {2}(?:readonly )?(\w+)(\??):/gm,
      )
    ) {
      const doc = comment!.replace(/^\s*\* ?/gm, " ").replace(/\s+/g, " ");
      fields.set(field!, {
        doc: doc.replace(/@default.*/, "").trim(),
        optional: mark === "?",
        byDefault: /@default \{(.*)\}/.exec(doc)?.[1] ?? null,
      });
    }
    interfaces.set(name!, fields);
    parents.set(name!, extended);
  }
  for (
    const [, inner, of] of text.matchAll(
      /((?:^export const \w+ = \{\n)(?:(?!^export const).*\n)*?)\} satisfies Record<keyof (\w+), Option>/gm,
    )
  ) {
    const spec = /^export const (\w+)/.exec(inner!)![1]!;
    described.push({ of: of!, spec, file });
  }
}

/** A field of an interface or of one that it extends. */
function fieldOf(name: string, field: string): Field | undefined {
  const own = interfaces.get(name)?.get(field);
  if (own !== undefined) return own;
  for (const [parent] of (parents.get(name) ?? "").matchAll(/\w+/g)) {
    if (!interfaces.has(parent) || parent === name) continue;
    const found = fieldOf(parent, field);
    if (found !== undefined) return found;
  }
  return undefined;
}

describe("the doc comments of options", () => {
  it("say the unit and the default that the descriptions have", async () => {
    const wrong: string[] = [];
    let compared = 0;
    for (const { of, spec, file } of described) {
      const module = await import(file.href);
      const options = module[spec] as OptionSpec;
      const place = fromFileUrl(file).slice(fromFileUrl(lib).length);
      for (const [name, option] of Object.entries(options)) {
        const field = fieldOf(of, name);
        if (field === undefined) continue;
        compared++;
        const say = (what: string) =>
          wrong.push(`${place}: ${of}.${name}: ${what}`);
        const { unit, fallback } = option;
        if (
          unit === ""
            ? false
            : unit === "1"
            ? false
            : !field.doc.includes(`in ${unit}`)
        ) {
          say(`in ${unit} is not said: "${field.doc.slice(0, 80)}"`);
        }
        if (field.optional !== (option.whenMissing !== null)) {
          say(field.optional ? "is needed" : "need not be given");
        }
        const plain = typeof fallback === "number" ||
          typeof fallback === "boolean" || typeof fallback === "string";
        if (plain && field.byDefault !== null) {
          const said = field.byDefault.replaceAll('"', "");
          const same = typeof fallback === "number"
            ? Number(said) === fallback || said === option.whenMissing
            : said === String(fallback) || said === option.whenMissing;
          if (!same) say(`default ${field.byDefault}, taken ${fallback}`);
        }
      }
    }
    expect(described.length).toBeGreaterThan(60);
    expect(compared).toBeGreaterThan(250);
    expect(wrong).toEqual([]);
  });
});
