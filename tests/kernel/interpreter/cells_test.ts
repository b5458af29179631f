import { describe, expect, it } from "vitest";
import { cell, lastCount } from "./harness.ts";

// The rules are those of ECMA-262 and of TypeScript; the notebook adds only
// that a cell may declare a name again.

describe("names across cells", () => {
  it("last from cell to cell", async () => {
    await cell("const kept: number = 41");
    expect((await cell("kept + 1")).value).toBe("42");
  });

  it("may be declared again by any kind of declaration", async () => {
    const forms = [
      "const again = 1",
      "let again = 2",
      "var again = 3",
      "function again() { return 4 }",
      "class again { static five = 5 }",
      "enum again { Six = 6 }",
      "import { twice as again } from './helper.ts'",
      "const { again } = { again: 8 }",
      "const [again] = [9]",
    ];
    for (const first of forms) {
      for (const second of forms) {
        await cell(first);
        expect((await cell(second)).error).toBe("");
      }
    }
    expect((await cell("again")).value).toBe("9");
  });

  it("are declared again when the same cell runs twice", async () => {
    const code =
      "import { join } from '@std/path';\nconst once = await Promise.resolve(join('a', 'b'));\nonce";
    expect((await cell(code)).value).toBe('"a/b"');
    expect((await cell(code)).value).toBe('"a/b"');
  });

  it("can be declared after a cell that failed to give them a value", async () => {
    await cell("const broken = (() => { throw new Error('no') })()");
    expect((await cell("const broken = 5; broken")).value).toBe("5");
  });

  it("take several values in one declaration, and functions keep their names", async () => {
    const made = await cell(
      `const give = () => ({ a: 1, b: [2, 3] });
let { a, b: [, c], d = a + c } = give(), e = d + c, f = (() => e);
[a, c, d, e, f.name, f()].join(" ")`,
    );
    expect(made.value).toBe('"1 3 4 7 f 7"');
  });

  it("hold functions before the line that declares them", async () => {
    expect(
      (await cell("early();\nfunction early() { return 'here' }\nearly()"))
        .value,
    )
      .toBe('"here"');
  });

  it("cannot be assigned where they are constants, also in a later cell", async () => {
    await cell("const fixed = 1; const { inner: [deep] } = { inner: [2] }");
    for (const code of ["fixed = 2", "fixed++", "[fixed] = [3]", "deep += 1"]) {
      expect((await cell(code)).error).toContain("is a constant");
    }
    expect(
      (await cell("((fixed: number) => { fixed = 3; return fixed })(1)")).value,
    )
      .toBe("3");
    expect((await cell("let fixed = 4; fixed = 5; fixed")).value).toBe("5");
    expect((await cell("fixed = 6; fixed")).value).toBe("6");
  });

  it("of `var` in blocks and loops belong to the notebook", async () => {
    await cell(
      "for (var i = 0, n = 3; i < n; i++) { var { a: [inBlock = 1] } = { a: [i] } }\nfor (var key in { x: 1 });\nfor (var [p, ...rest] of [[1, 2, 3]]);",
    );
    expect((await cell("[i, n, inBlock, key, p, rest]")).value)
      .toBe('[ 3, 3, 2, "x", 1, [ 2, 3 ] ]');
  });

  it("that modules look for in the global scope are the cell's own affair", async () => {
    const { error, value } = await cell(
      "const window = [1, 2]; let process = 5; const { performance, x: document = 3 } = { performance: 'mine' }; function fetch(self: number) { return { self, window } }\nfetch(1)",
    );
    expect(error).toBe("");
    expect(value).toBe("{ self: 1, window: [ 1, 2 ] }");
    expect(
      (await cell(
        "import { sees } from './browser_probe.ts'; [sees(), window.length, process, performance, document, { process }]",
      )).value?.replace(/\s+/g, " "),
    ).toBe(
      '[ { window: "undefined", process: "object", now: "function" }, 2, 5, "mine", 3, { process: 5 } ]',
    );
    expect(
      (await cell("process = 6; ({ process } = { process: 7 }); process"))
        .value,
    )
      .toBe("7");
    expect((await cell("globalThis.performance.now() > 0")).value).toBe("true");
  });

  it("must be declared: a cell is strict code", async () => {
    expect((await cell("neverDeclared = 1")).error).toContain(
      "neverDeclared is not defined",
    );
  });
});

describe("the value of a cell", () => {
  it("is that of its last expression", async () => {
    expect((await cell("1 + 1")).value).toBe("2");
    expect((await cell("'text'")).value).toBe('"text"');
    expect((await cell("1; ;")).value).toBe("1");
    expect((await cell("5; interface After { a: number }")).value).toBe("5");
    expect((await cell("await Promise.resolve(7)")).value).toBe("7");
  });

  it("is shown for null and large integers, not for undefined", async () => {
    expect((await cell("null")).value).toBe("null");
    expect((await cell("10n")).value).toBe("10n");
    expect((await cell("undefined")).value).toBe(null);
  });

  it("is nothing after a declaration or a loop", async () => {
    expect((await cell("const a = 1")).value).toBe(null);
    expect((await cell("for (const b of [1]) b")).value).toBe(null);
    expect((await cell("")).value).toBe(null);
    expect((await cell("// a remark")).value).toBe(null);
  });

  it("has no colour codes", async () => {
    const { value } = await cell("({ a: 1, b: 'x', c: [true, null] })");
    expect(value).toBe('{ a: 1, b: "x", c: [ true, null ] }');
  });

  it("shows itself by Jupyter.display, also later", async () => {
    const { outcome } = await cell(
      "({ [Symbol.for('Jupyter.display')]: async () => { await 1; return { 'text/html': '<b>x</b>' } } })",
    );
    expect(outcome.status === "ok" && outcome.result?.data["text/html"]).toBe(
      "<b>x</b>",
    );
    expect(outcome.status === "ok" && "text/plain" in outcome.result!.data)
      .toBe(true);
  });

  it("whose form throws is an error and not the end", async () => {
    const { error } = await cell(
      "({ [Symbol.for('Jupyter.display')]() { throw new Error('no form') } })",
    );
    expect(error).toContain("no form");
    expect((await cell("({ [Symbol.for('Jupyter.display')]: () => 5 })")).error)
      .toContain("did not return an object of MIME types");
  });
});

describe("TypeScript", () => {
  it("has types, enums, parameter properties, namespaces and decorators", async () => {
    const { value, error } = await cell(`
      enum Colour { Red = 1, Green }
      const enum Size { Small = 3 }
      interface Named { name: string }
      type Pair<T> = [T, T];
      abstract class Base<T> { constructor(readonly held: T) {} }
      class Derived extends Base<string> implements Named { name = this.held! }
      namespace Inner { export const x = 9 }
      function mark(value: unknown, context: ClassMethodDecoratorContext) { void value; void context }
      class Marked { @mark run() { return 1 } }
      const pair = [1, 2] as const satisfies Pair<number> | readonly number[];
      [Colour.Green, Colour[1], Size.Small, new Derived("d").name, Inner.x, new Marked().run(), pair[1]]`);
    expect(error).toBe("");
    expect(value?.replace(/\s+/g, " ")).toBe('[ 2, "Red", 3, "d", 9, 1, 2 ]');
  });

  it("drops imports of types and keeps what a later cell needs", async () => {
    expect(
      (await cell(
        "import type { Reach } from './helper.ts';\nimport { type Reach as R2, Reach as R3, twice } from './helper.ts';\nlet reach: Reach | R2 | R3 = { far: 1 }",
      )).error,
    ).toBe("");
    expect((await cell("twice(reach.far)")).value).toBe("2");
  });

  it("has what a module may have that a script may not", async () => {
    expect((await cell("export default function () { return 4 }")).value)
      .toContain("Function");
    expect((await cell("export default class { static x = 1 }")).value)
      .toContain("class");
    expect(
      (await cell(
        "export {}; export * from './helper.ts'; export const out = 3; out",
      )).value,
    )
      .toBe("3");
    expect((await cell("#!/usr/bin/env deno\n5")).value).toBe("5");
    expect(
      (await cell(
        "import data from './data.json' with { type: 'json' }; data.v",
      )).value,
    )
      .toBe("1");
    expect((await cell("import fs = require('node:fs'); fs")).error).toContain(
      "write import * as fs from",
    );
    expect(
      (await cell(
        "using r = { [Symbol.dispose]() { console.log('disposed') } }; 5",
      )).text,
    )
      .toBe("disposed\n");
  });

  it("has no JSX", async () => {
    expect((await cell("const x = <b>text</b>")).error).toContain(
      "SyntaxError",
    );
  });
});

describe("imports", () => {
  it("work for mapped names, packages, files beside the notebook and defaults", async () => {
    expect(
      (await cell("import { join } from '@std/path'; join('a', 'b')")).value,
    )
      .toBe('"a/b"');
    expect(
      (await cell("import FFT from 'npm:fft.js@4.0.4'; new FFT(8).size")).value,
    )
      .toBe("8");
    expect(
      (await cell("import text, { twice } from './helper.ts'; text + twice(2)"))
        .value,
    ).toBe('"the default4"');
    expect(
      (await cell(
        "import * as all from './helper.ts'; Object.keys(all).sort()",
      ))
        .value,
    ).toBe('[ "default", "fail", "failLater", "twice" ]');
    expect((await cell("(await import('./helper.ts')).default")).value).toBe(
      '"the default"',
    );
    expect(
      (await cell("const where = './helper.ts'; (await import(where)).default"))
        .value,
    ).toBe('"the default"');
  });

  it("say which name a module lacks", async () => {
    const { error } = await cell(
      "import { triple } from './helper.ts'; triple(1)",
    );
    expect(error).toContain('has no export named "triple"');
    expect(error).toContain("twice");
  });

  it("say which module is missing, with the line", async () => {
    const { error } = await cell("1;\nimport { a } from './missing.ts'; a");
    expect(error).toContain("missing.ts");
    expect(error).toContain(`cell [${lastCount()}] line 2`);
  });

  it("give import.meta of the notebook's folder", async () => {
    expect((await cell("import.meta.dirname?.endsWith('fixtures')")).value)
      .toBe(
        "true",
      );
  });
});

describe("streams and displays", () => {
  it("come in the order written, under their names", async () => {
    const { outputs } = await cell(
      "console.log('a', { b: 1 }); console.error('c'); await cell.display(5, { displayId: 'd' }); await cell.updateDisplay('d', 6); cell.clearOutput({ wait: true }); Deno.stdout.writeSync(new TextEncoder().encode('raw'))",
    );
    expect(outputs).toEqual([
      { type: "stream", name: "stdout", text: "a { b: 1 }\n" },
      { type: "stream", name: "stderr", text: "c\n" },
      {
        type: "display_data",
        data: { "text/plain": "5" },
        metadata: {},
        displayId: "d",
      },
      {
        type: "update_display_data",
        data: { "text/plain": "6" },
        metadata: {},
        displayId: "d",
      },
      { type: "clear_output", wait: true },
      { type: "stream", name: "stdout", text: "raw" },
    ]);
  });

  it("belong to the cell that started the work, however late", async () => {
    const first = await cell(
      "setTimeout(() => console.log('late'), 30); void (async () => { await new Promise((r) => setTimeout(r, 20)); console.log('later') })(); 0",
    );
    const second = await cell(
      "await new Promise((r) => setTimeout(r, 60)); console.log('mine')",
    );
    expect(
      first.text + first.outputs.map((o) => "text" in o ? o.text : "").join(""),
    )
      .toContain("late");
    expect(second.text).toBe("mine\n");
  });

  it("ask the person for a line", async () => {
    expect((await cell("await input('Who? ')")).value).toBe(
      '"answer to Who? "',
    );
  });

  it("are reached by helpers through a documented hook", async () => {
    const { outputs } = await cell(
      "globalThis[Symbol.for('fringebook.cell')].publish({ type: 'display_data', data: { 'text/plain': 'x' }, metadata: {}, displayId: null })",
    );
    expect(outputs[0]?.type).toBe("display_data");
  });
});

describe("user expressions", () => {
  it("are evaluated after success, without side output", async () => {
    const { outcome, outputs } = await cell("const ux = 20", {
      double: "ux * 2",
      object: "{ a: ux }",
      noisy: "(console.log('x'), 1)",
      wrong: "ux.a.b",
    });
    expect(outputs).toEqual([]);
    if (outcome.status !== "ok") throw new Error("it failed");
    const { double, object, noisy, wrong } = outcome.userExpressions;
    expect(double).toEqual({
      status: "ok",
      data: { "text/plain": "40" },
      metadata: {},
    });
    expect(object?.status === "ok" && object.data["text/plain"]).toBe(
      "{ a: 20 }",
    );
    expect(noisy?.status).toBe("ok");
    expect(wrong?.status === "error" && wrong.ename).toBe("TypeError");
  });
});
