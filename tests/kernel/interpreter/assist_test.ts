import { beforeAll, describe, expect, it } from "vitest";
import { completenessOf } from "../../../lib/kernel/interpreter/mod.ts";
import { cell, interpreterForTests } from "./harness.ts";

async function matches(code: string, cursor = [...code].length) {
  const interpreter = await interpreterForTests();
  return (await interpreter.complete(code, cursor)).matches;
}

async function about(code: string, cursor: number, detail: 0 | 1 = 0) {
  const interpreter = await interpreterForTests();
  const { found, data } = await interpreter.inspect(code, cursor, detail);
  return found ? String(data["text/plain"]) : null;
}

describe("completion", () => {
  beforeAll(async () => {
    await cell(`import { twice } from "./helper.ts";
import * as helper from "./helper.ts";
import { readCapture } from "fringebook";
const bench = { length: 5, wavelength: 650e-9, "not a name": 1 };
class Diode { threshold = 1; drive() {} }
const diode = new Diode();
const many = new Float64Array(100000);
let effects = 0;
const trap = { get deep() { effects++; return { inner: 1 } } };`);
  });

  it("knows the names of cells, of the language and of the cell at hand", async () => {
    expect(await matches("dio")).toEqual(["diode"]);
    expect(await matches("ben")).toEqual(["bench"]);
    expect(await matches("awai")).toEqual(["await"]);
    expect(await matches("const localName = 1; localN")).toEqual(["localName"]);
    expect(await matches("structuredC")).toEqual(["structuredClone"]);
    expect(await matches("__fringe")).toEqual([]);
  });

  it("knows members, own and inherited, that can be typed after a dot", async () => {
    expect(await matches("bench.")).toEqual(
      expect.arrayContaining(["length", "wavelength"]),
    );
    expect(await matches("bench.")).not.toContain("not a name");
    expect(await matches("diode.dr")).toEqual(["drive"]);
    expect(await matches("diode?.thr")).toEqual(["threshold"]);
    expect(await matches("many.len")).toEqual(["length"]);
    expect(await matches("'text'.toU")).toEqual(["toUpperCase"]);
    expect(await matches("[1, 2].findLastI")).toEqual(["findLastIndex"]);
    expect(await matches("Math.fl")).toEqual(["floor"]);
  });

  it("knows names that are kept from modules", async () => {
    await cell("const window = { hann: 1 }");
    expect((await matches("wind"))[0]).toBe("window");
    expect(await matches("window.han")).toEqual(["hann"]);
    expect(await about("window.hann", 9)).toContain("now: 1");
  });

  it("runs nothing that has an effect", async () => {
    expect(await matches("trap.deep.")).toEqual([]);
    expect(await matches("diode.drive().")).toEqual([]);
    expect((await cell("effects")).value).toBe("0");
  });

  it("knows modules, and what they export", async () => {
    const doors = await matches('import { x } from "fring');
    expect(doors[0]).toBe("fringebook");
    expect(doors).toContain("fringebook/signal");
    expect(await matches('import { x } from "./')).toEqual([
      "./browser_probe.ts",
      "./data.json",
      "./helper.ts",
    ]);
    expect(await matches('import { tw } from "./helper.ts"', 11)).toEqual([
      "twice",
    ]);
    expect(await matches('import { readC } from "fringebook"', 14)).toContain(
      "readCapture",
    );
  });

  it("knows what the project exports and the cell has not imported", async () => {
    const interpreter = await interpreterForTests();
    const code = "const check = checkCapt";
    const found = await interpreter.complete(code, code.length);
    expect(found.matches).toContain("checkCapture");
    expect(found.metadata["_jupyter_types_experimental"]).toContainEqual({
      start: 14,
      end: 23,
      text: "checkCapture",
      type: "function",
      signature: 'import { checkCapture } from "fringebook";',
    });
    // Types are no values, and one letter fits too much.
    expect(await matches("MotionOpt")).toEqual([]);
    expect(await matches("q")).not.toContain("quantity");
  });

  it("knows types of the cell at hand", async () => {
    expect(await matches("interface Bench {}; let b: Ben")).toContain("Bench");
  });

  it("counts the cursor in code points", async () => {
    const interpreter = await interpreterForTests();
    const code = '"😀"; dio';
    const result = await interpreter.complete(code, 8);
    expect(result.matches).toEqual(["diode"]);
    expect([result.cursorStart, result.cursorEnd]).toEqual([5, 8]);
    const beyond = await interpreter.complete("dio", 99);
    expect([beyond.cursorStart, beyond.cursorEnd]).toEqual([0, 3]);
  });

  it("is silent in texts and comments, and where nothing fits", async () => {
    expect(await matches('"dio')).toEqual([]);
    expect(await matches("// dio")).toEqual([]);
    const interpreter = await interpreterForTests();
    expect(await interpreter.complete("zzzz", 4)).toEqual({
      matches: [],
      cursorStart: 4,
      cursorEnd: 4,
      metadata: { _jupyter_types_experimental: [] },
    });
  });
});

describe("inspection", () => {
  it("shows signature and doc comment of what a module exports", async () => {
    await cell('import { twice } from "./helper.ts";');
    const text = await about("twice(5)", 2);
    expect(text).toContain("twice = (x: number): number");
    expect(text).toContain("Twice a number.");
    expect(await about('import { quantity } from "fringebook";', 12)).toContain(
      "function quantity(",
    );
  });

  it("shows the function when the cursor is within its brackets", async () => {
    expect(await about("twice(5, ", 9)).toContain("Twice a number.");
  });

  it("shows what a cell declares, with its value now and its source", async () => {
    await cell(
      "/** Half of it. */\nfunction half(x: number) { return x / 2 }\nlet seen = 5;",
    );
    expect(await about("half", 4)).toContain("Half of it.");
    expect(await about("half", 4, 1)).toContain("return x / 2");
    expect(await about("seen", 1)).toContain("now: 5");
  });

  it("tells how to import what the cell has not imported", async () => {
    expect(await about("checkCapture", 3)).toContain(
      'not imported: import { checkCapture } from "fringebook";',
    );
    expect(await about("welchStream", 3)).toContain(
      'not imported: import { welchStream } from "fringebook/signal";',
    );
  });

  it("says behind which door a name stands that was looked for at another", async () => {
    const { error } = await cell('import { welch } from "fringebook"; welch');
    expect(error).toContain('has no export named "welch"');
    expect(error).toContain('import { welch } from "fringebook/signal";');
  });

  it("shows values, and nothing for what is not there", async () => {
    await cell("const shelf = { depth: 3 }");
    expect(await about("shelf.depth", 8)).toContain("shelf.depth: number");
    expect(await about("nowhere", 3)).toBe(null);
    expect(await about("", 0)).toBe(null);
  });
});

describe("completeness", () => {
  const cases: Record<string, readonly string[]> = {
    complete: ["1 + 1", "", "let x = 5;", "await y", "if (a) { b() }"],
    incomplete: [
      "function f() {",
      "g(",
      "let x =",
      "`open text",
      "/* remark",
      "const a = [1,",
      "for (;;) {\n  b()",
      "x +",
      "import { a",
    ],
    invalid: ["let = 5 5", "}", "'open text", "=> 5", "const const"],
  };
  for (const [status, codes] of Object.entries(cases)) {
    it(`is ${status} by the parser`, () => {
      for (const code of codes) {
        expect([code, completenessOf(code).status]).toEqual([code, status]);
      }
    });
  }

  it("indents after an opening bracket", () => {
    expect(completenessOf("  for (;;) {").indent).toBe("    ");
    expect(completenessOf("f(1,").indent).toBe("");
  });
});
