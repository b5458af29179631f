import "fringebook/display";
import { presenterFor } from "fringebook/result";
import { describe, expect, it } from "vitest";

const lib = new URL("../../lib/", import.meta.url);

/** Kinds of result that the source makes; those in examples aside. */
async function kinds(folder: URL): Promise<string[]> {
  const found: string[] = [];
  for await (const { name, isDirectory } of Deno.readDir(folder)) {
    if (isDirectory) {
      found.push(...await kinds(new URL(`${name}/`, folder)));
    } else if (name.endsWith(".ts")) {
      const text = await Deno.readTextFile(new URL(name, folder));
      const made = text.matchAll(/^ +kind: "(\w+\.[\w-]+)"(?: as const)?,$/gm);
      found.push(...Array.from(made, ([, kind = ""]) => kind));
    }
  }
  return found;
}

describe("the presenters", () => {
  it("know every kind of result that the library makes", async () => {
    const made = [...new Set(await kinds(lib))].sort();
    expect(made.length).toBeGreaterThan(40);
    expect(made.filter((kind) => presenterFor(kind) === null)).toEqual([]);
  });
});
