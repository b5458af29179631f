import { describe, expect, it } from "vitest";
import { cell, lastCount } from "./harness.ts";

describe("an error", () => {
  it("shows the person's own line first, then itself, then a short stack", async () => {
    await cell(
      "function inner(value: any) {\n  return value.missing.field;\n}",
    );
    const helper = lastCount();
    const { outcome } = await cell("// a remark\n\ninner({})");
    if (outcome.status !== "error") throw new Error("it ran");
    expect(outcome.ename).toBe("TypeError");
    expect(outcome.traceback).toEqual([
      `cell [${helper}] line 2`,
      "2 |   return value.missing.field;",
      "  |                        ^",
      "TypeError: Cannot read properties of undefined (reading 'field')",
      `    at inner (cell [${helper}] line 2)`,
      `    at cell [${lastCount()}] line 3`,
    ]);
  });

  it("in a module names the line of the cell that called", async () => {
    const { error } = await cell(
      "import { fail } from './helper.ts';\n\nfail()",
    );
    expect(error).toContain(`cell [${lastCount()}] line 3\n3 | fail()`);
    expect(error).toContain("RangeError: the helper failed");
    expect(error).toMatch(/at fail \(file:.*helper\.ts:11:9\)/);
    expect(error).not.toContain("lib/kernel");
    expect(error).not.toContain("ext:");
  });

  it("that comes later names the line that awaited", async () => {
    const { error } = await cell(
      "import { failLater } from './helper.ts';\n1;\nawait failLater()",
    );
    expect(error).toContain(
      `cell [${lastCount()}] line 3\n3 | await failLater()`,
    );
  });

  it("of syntax has the line and column of the person's text", async () => {
    const { outcome } = await cell("const a: number = 1;\nconst b = ;\n");
    if (outcome.status !== "error") throw new Error("it ran");
    expect(outcome.ename).toBe("SyntaxError");
    expect(outcome.traceback.slice(0, 3)).toEqual([
      `cell [${lastCount()}] line 2`,
      "2 | const b = ;",
      "  |           ^",
    ]);
  });

  it("that only the engine sees has its line too", async () => {
    const twice = await cell("type T = number;\nlet a: T = 1;\nlet a = 2;");
    expect(twice.error).toContain("already been declared");
    expect(twice.error).toContain("line 3");
    expect((await cell("1;\nreturn 5")).error).toContain("SyntaxError");
  });

  it("may be anything that is thrown", async () => {
    expect((await cell("throw 'text'")).error).toContain('Thrown: "text"');
    expect((await cell("throw null")).error).toContain("Thrown: null");
    expect((await cell("throw { a: 1 }")).error).toContain("{ a: 1 }");
    expect((await cell("throw undefined")).error).toContain("undefined");
  });

  it("says where a name that was not imported is to be had", async () => {
    const { outcome } = await cell("checkCapture(5)");
    if (outcome.status !== "error") throw new Error("it ran");
    expect(outcome.traceback.at(-1)).toBe(
      `'checkCapture' is in "fringebook": import { checkCapture } from "fringebook";`,
    );
    expect((await cell("nowhereToBeFound()")).error).not.toContain("import");
  });

  it("names its causes", async () => {
    const { error } = await cell(
      "throw new Error('outer', { cause: new TypeError('inner') })",
    );
    expect(error).toContain("Error: outer");
    expect(error).toContain("Caused by TypeError: inner");
  });

  it("does no harm where it is hostile", async () => {
    const { error } = await cell(
      "const e = new Error('x'); Object.defineProperty(e, 'message', { get() { throw 1 } }); Object.defineProperty(e, 'name', { get() { throw 2 } }); throw e",
    );
    expect(error).toContain("Error");
    expect((await cell("1 + 1")).value).toBe("2");
  });

  it("that nobody handles is told under its cell, and the session lives", async () => {
    const ran = await cell(
      "Promise.reject(new Error('lost'));\nsetTimeout(() => { throw new Error('in a timer') }, 1);\nawait new Promise((r) => setTimeout(r, 30)); 5",
    );
    expect(ran.value).toBe("5");
    expect(ran.text).toContain("Error: lost");
    expect(ran.text).toContain("Error: in a timer");
    expect(ran.text).toContain(`cell [${lastCount()}] line 2`);
  });
});
