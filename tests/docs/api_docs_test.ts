import { describe, expect, it } from "vitest";
import { type Declaration, exported } from "./exported.ts";

/** Doors of the measurements: those of the kernel have no example each. */
const symbols = [...await exported()]
  .filter(([door]) => door !== "./kernel" && door !== "./notebook")
  .flatMap(([, all]) => all);

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
  it("has summary, parameters, result and a runnable example of every function", () => {
    const functions = symbols.filter(({ declarations }) =>
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
  it("has a summary of every type and constant", () => {
    const silent = symbols
      .filter(({ declarations }) =>
        declarations.every(({ kind, jsDoc }) =>
          kind !== "reference" && (jsDoc?.doc ?? "").trim() === ""
        )
      )
      .map(({ name }) => name);
    expect(silent).toEqual([]);
  });
});
