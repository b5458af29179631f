import { describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  formatNotebook,
  injectParameters,
  joinText,
  parseNotebook,
  parseParameter,
  readNotebook,
  SaveError,
  splitText,
  writeNotebook,
} from "../../lib/notebook/mod.ts";
import { code, notebookOf } from "./harness.ts";

// The format is nbformat 4.5 (Jupyter's notebook file format, JSON schema
// nbformat.v4.5.schema.json): ids of 1 to 64 of [a-zA-Z0-9-_], multi-line
// strings as text or list of lines.

describe("a notebook file", () => {
  it("keeps what it does not know, and its cell ids", () => {
    const text = JSON.stringify({
      nbformat: 4,
      nbformat_minor: 5,
      metadata: { kernelspec: { name: "x" }, own: [1] },
      extra: true,
      cells: [{
        cell_type: "markdown",
        id: "first-1",
        metadata: { tags: ["a"], other: 2 },
        source: ["# A\n", "b"],
        attachments: { "p.png": { "image/png": "AA==" } },
        unknown: "kept",
      }],
    });
    const again = JSON.parse(formatNotebook(parseNotebook(text)));
    expect(again).toEqual(JSON.parse(text));
  });

  it("is written as notebook editors write it: lines, and one space of indent", () => {
    const text = formatNotebook(notebookOf(code("a", "1\n2")));
    expect(text).toContain('\n "nbformat": 4,');
    expect(JSON.parse(text).cells[0].source).toEqual(["1\n", "2"]);
    expect(text.endsWith("}\n")).toBe(true);
  });

  it("of an older minor version gets cell ids, all different", () => {
    const cell = { cell_type: "code", metadata: {}, source: "1", outputs: [] };
    const notebook = parseNotebook(JSON.stringify({
      nbformat: 4,
      nbformat_minor: 2,
      metadata: {},
      cells: [cell, cell, { ...cell, id: "no good id!" }],
    }));
    const ids = notebook.cells.map(({ id }) => id);
    expect(new Set(ids).size).toBe(3);
    expect(ids.every((id) => /^[a-zA-Z0-9-_]{1,64}$/.test(id))).toBe(true);
    expect(notebook.nbformat_minor).toBe(5);
  });

  it("that is none is refused with what is wrong", () => {
    const cases = [
      ["", "it is empty"],
      ["{", "it is not JSON"],
      ["[1]", "it is not a JSON object"],
      ['{"nbformat": 3, "worksheets": []}', "must be 4: current value is 3"],
      ['{"nbformat": 4}', "it has no list of cells"],
      ['{"nbformat": 4, "cells": [5]}', "cell 1 is not an object"],
      [
        '{"nbformat": 4, "cells": [{"cell_type": "sql", "source": ""}]}',
        '"sql"',
      ],
      [
        '{"nbformat": 4, "cells": [{"cell_type": "code"}]}',
        "cell 1 has no source",
      ],
    ] as const;
    for (const [text, reason] of cases) {
      expect(() => parseNotebook(text, "x.ipynb")).toThrow(reason);
      expect(() => parseNotebook(text, "x.ipynb")).toThrow("'x.ipynb'");
    }
  });

  it("is replaced as a whole, and stays as it was when that fails", async () => {
    const folder = await Deno.makeTempDir();
    const path = join(folder, "new", "a.ipynb");
    await writeNotebook(path, notebookOf(code("a", "1")));
    expect((await readNotebook(path)).cells[0]?.id).toBe("a");
    // A folder in its place cannot be replaced by a file.
    const blocked = join(folder, "blocked.ipynb");
    await Deno.mkdir(join(blocked, "inside"), { recursive: true });
    await expect(writeNotebook(blocked, notebookOf())).rejects.toThrow();
    const left = [...Deno.readDirSync(folder)].map(({ name }) => name).sort();
    expect(left).toEqual(["blocked.ipynb", "new"]);
    await Deno.remove(folder, { recursive: true });
  });

  it("splits and joins text without loss", () => {
    for (const text of ["", "a", "a\n", "a\nb", "\n\na", "a\r\nb"]) {
      expect(joinText(splitText(text))).toBe(text);
    }
  });

  it("that cannot be saved is named with the reason, and nothing is left", async () => {
    const folder = await Deno.makeTempDir();
    try {
      const path = join(folder, "a.ipynb");
      await Deno.mkdir(path);
      const error = await writeNotebook(path, notebookOf(code("a", "1")))
        .then(() => null, (error: unknown) => error);
      expect(error).toBeInstanceOf(SaveError);
      expect((error as Error).message).toContain(
        `Cannot save '${path}' as a folder has that name`,
      );
      expect([...Deno.readDirSync(folder)].map(({ name }) => name)).toEqual([
        "a.ipynb",
      ]);
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });
});

describe("parameters", () => {
  it("are declared again after the cell tagged for them", async () => {
    const notebook = notebookOf(
      code("a", "const length = 1;\nlet name = 'x';", ["parameters"]),
      code("b", "length"),
    );
    await injectParameters(notebook, { length: 2.5, name: "it's" });
    expect(notebook.cells.length).toBe(3);
    expect(joinText(notebook.cells[1]!.source)).toBe(
      'let length = 2.5;\nlet name = "it\'s";',
    );
    expect(notebook.cells[1]!.metadata["tags"]).toEqual([
      "set-by-run",
    ]);
    await injectParameters(notebook, { length: 3 });
    expect(notebook.cells.length).toBe(3);
    expect(joinText(notebook.cells[1]!.source)).toBe("let length = 3;");
  });

  it("that the notebook does not have are refused", async () => {
    await expect(injectParameters(notebookOf(code("a", "1")), { x: 1 })).rejects
      .toThrow("no code cell of the notebook has the tag 'parameters'");
    const tagged = notebookOf(code("a", "let y = 1", ["parameters"]));
    await expect(injectParameters(tagged, { x: 1 })).rejects.toThrow(
      "does not declare it: it declares y",
    );
  });

  it("are read from the shell as JSON or text", () => {
    expect(parseParameter("a=1.5")).toEqual(["a", 1.5]);
    expect(parseParameter("a=[1,2]")).toEqual(["a", [1, 2]]);
    expect(parseParameter("a=some text")).toEqual(["a", "some text"]);
    expect(parseParameter("a=b=c")).toEqual(["a", "b=c"]);
    expect(parseParameter("a=")).toEqual(["a", ""]);
    for (const wrong of ["a", "=1", "1a=2", "a b=1"]) {
      expect(() => parseParameter(wrong)).toThrow("write it as name=value");
    }
  });
});
