import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { compileCell } from "../../lib/kernel/interpreter/mod.ts";
import { joinText, readNotebook } from "../../lib/notebook/mod.ts";

const notebooks = new URL("../../notebooks/", import.meta.url);

function namesIn(folder: string): string[] {
  return [...Deno.readDirSync(new URL(folder, notebooks))]
    .filter(({ name }) => name.endsWith(".ipynb"))
    .map(({ name }) => `${folder}${name}`)
    .sort();
}

// What they compute is run by `.ci/outside/shell.sh`.
describe("every notebook and template", () => {
  for (
    const name of ["./", "templates/", "templates/course/", "assignments/"]
      .flatMap(namesIn)
  ) {
    it(`imports only what there is: ${name}`, async () => {
      const { cells } = await readNotebook(
        join(fromFileUrl(notebooks), name),
      );
      for (const cell of cells) {
        if (cell.cell_type !== "code") continue;
        const { imports } = compileCell(joinText(cell.source), {
          ordinal: 1,
          baseUrl: notebooks.href,
          constants: new Set(),
          hidden: new Set(),
        });
        for (const { specifier, imported } of imports) {
          const module = await import(specifier);
          if (imported !== "*") expect(Object.keys(module)).toContain(imported);
        }
      }
    });
  }
});

describe("a template that is opened where it lies", () => {
  for (const name of namesIn("templates/")) {
    it(`says what to do, and fails with no bare NotFound: ${name}`, async () => {
      const { cells } = await readNotebook(join(fromFileUrl(notebooks), name));
      const text = cells.map(({ source }) => joinText(source)).join("\n");
      const [, message] =
        /Deno\.stat\([^)]*\)\.catch[\s\S]*?RangeError\(\s*(.*),\n/
          .exec(text) ?? [];
      expect(message).toMatch(/is a template.*deno task [a-z-]+/);
      // Nothing is read before
      expect(text.indexOf("Deno.stat")).toBeLessThan(text.search(/await read/));
    });
  }
});
