import { describe, expect, it } from "vitest";
import { fromFileUrl } from "@std/path";
import { TypeService } from "../../../lib/kernel/types/mod.ts";

const folder = (path: string) =>
  fromFileUrl(new URL(path, import.meta.url)).replace(/[\\/]$/, "");

const service = new TypeService({
  notebookFolder: folder("./fixtures/"),
  projectFolder: folder("../../../"),
  imports: { "@std/path": "npm:a-package" },
});
service.add(`import { later, shape, size } from "./shapes.ts";
import { join } from "@std/path";
const box = shape({ width: 2 });
interface Rod { length: number }`);

/** What the check says of lines of a cell, as `line: text`. */
function notes(code: string, lines: number[] = [1], ename = "TypeError") {
  return service.notes({ code, lines, ename })
    .map(({ line, text }) => `${line}: ${text}`);
}

describe("the type check of a cell that threw", () => {
  it("names an option that does not exist, and the nearest one", () => {
    expect(notes("size({\n  widht: 5,\n})", [1])).toEqual([
      "2: 'widht' does not exist in ShapeOptions; did you mean 'width'?",
    ]);
  });
  it("says that an await is missing", () => {
    expect(notes("box.grow(later())")[0]).toMatch(
      /^1: Argument of type 'Promise<number>' .* Did you forget to use 'await'\?$/,
    );
  });
  it("knows the names and types of earlier cells, the newest first", () => {
    expect(notes("box.widht")).toEqual([
      "1: Property 'widht' does not exist on type 'Shape'. Did you mean 'width'?",
    ]);
    expect(notes("const rod: Rod = { lenght: 1 }")[0]).toMatch(
      /did you mean 'length'/,
    );
    service.add("let box = 5;");
    expect(notes("box.toFixd()")[0]).toMatch(/'toFixed'/);
    service.add('import { shape } from "./shapes.ts"; const box = shape({});');
  });
  it("speaks only of the statements in which the cell failed", () => {
    const code =
      "box.a;\nfor (const i of [1]) {\n  box.b;\n  box.c;\n}\nbox.d;";
    expect(notes(code, [3]).map((text) => text.slice(0, 15)))
      .toEqual(["3: Property 'b'"]);
    expect(notes(code, [])).toEqual([]);
    expect(notes(code, [99])).toEqual([]);
    expect(notes("box.a; box.b; box.c; box.d")).toHaveLength(3);
  });
  it("is silent about packages, globals of the runtime, and declaring anew", () => {
    expect(notes('import { x } from "nowhere"; x.y')).toEqual([]);
    expect(notes("join(5); Deno.nothing(); cell.nothing(); nowhere")).toEqual(
      [],
    );
    expect(notes("const box = 1; const size = await later(); let a; let a;"))
      .toEqual([]);
  });
  it("is at home in half a cell", () => {
    expect(notes("box.widht(")).toHaveLength(1);
    expect(notes("")).toEqual([]);
    expect(notes("#!/bin/sh\nbox.a", [2])).toHaveLength(1);
  });
});

describe("members by type", () => {
  it("are known of what the cell at hand declares and has not run", () => {
    const code = "const other = shape({}); other.";
    expect(service.members(code, code.length)).toEqual(["grow", "width"]);
  });
  it("are none where there is no dot", () => {
    expect(service.members("box", 3)).toEqual([]);
  });
});
