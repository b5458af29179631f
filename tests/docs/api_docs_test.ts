import { describe, expect, it } from "vitest";
import { fromFileUrl } from "@std/path";

const library = fromFileUrl(new URL("../../lib/mod.ts", import.meta.url));

interface Tag {
  readonly kind: string;
  readonly name?: string;
  readonly doc?: string;
}

interface Declaration {
  readonly kind: string;
  readonly jsDoc?: { readonly doc?: string; readonly tags?: readonly Tag[] };
  readonly def?: {
    readonly params?: readonly unknown[];
    readonly returnType?: {
      readonly kind: string;
      readonly repr?: string;
      readonly value?: unknown;
    };
  };
}

interface Exported {
  readonly name: string;
  readonly declarations: readonly Declaration[];
}

/** Everything that the library exports, as the documentation tool sees it. */
async function exported(): Promise<Exported[]> {
  const { stdout, success } = await new Deno.Command(Deno.execPath(), {
    args: ["doc", "--json", library],
    env: { NO_COLOR: "1" },
    stderr: "null",
  }).output();
  if (!success) throw new Error("deno doc failed");
  const { nodes } = JSON.parse(new TextDecoder().decode(stdout));
  return Object.values(nodes as Record<string, { symbols: Exported[] }>)
    .flatMap(({ symbols }) => symbols);
}

/** `Promise<void>` promises nothing that a caller could be told of. */
function isVoidPromise(value: unknown): boolean {
  const { typeName, typeParams } = (value ?? {}) as {
    typeName?: string;
    typeParams?: readonly { repr?: string }[];
  };
  return typeName === "Promise" && typeParams?.[0]?.repr === "void";
}

/** What the documentation of a function lacks. */
function missing({ jsDoc = {}, def = {} }: Declaration): string[] {
  const { doc = "", tags = [] } = jsDoc;
  const count = (kind: string) =>
    tags.filter((tag) => tag.kind === kind && (tag.doc ?? "").trim() !== "")
      .length;
  const { returnType, params = [] } = def;
  const returns = returnType !== undefined &&
    !(returnType.kind === "keyword" &&
      ["void", "never"].includes(String(returnType.value))) &&
    !isVoidPromise(returnType.value);
  const example = tags.find(({ kind }) => kind === "example")?.doc ?? "";
  return [
    ...(doc.trim() === "" ? ["summary"] : []),
    ...(count("param") < params.length ? ["@param"] : []),
    ...(returns && count("return") === 0 ? ["@returns"] : []),
    ...(example.includes("```ts") ? [] : ["@example"]),
  ];
}

describe("the API reference", () => {
  it("has summary, parameters, result and a runnable example of every function", async () => {
    const functions = (await exported()).filter(({ declarations }) =>
      declarations.some(({ kind }) => kind === "function")
    );
    expect(functions.length).toBeGreaterThan(50);
    const offenders = functions.flatMap(({ name, declarations }) => {
      const all = declarations.filter(({ kind }) => kind === "function");
      // One documented overload speaks for the others
      const lacks = all.map(missing).sort((a, b) => a.length - b.length)[0]!;
      return lacks.length === 0 ? [] : [`${name}: ${lacks.join(", ")}`];
    });
    expect(offenders).toEqual([]);
  });
  it("has a summary of every type and constant", async () => {
    const silent = (await exported())
      .filter(({ declarations }) =>
        declarations.every(({ jsDoc }) => (jsDoc?.doc ?? "").trim() === "")
      )
      .map(({ name }) => name);
    expect(silent).toEqual([]);
  });
});
