import { afterAll, beforeAll, beforeEach, describe, expect, it } from "vitest";
import { fromFileUrl } from "@std/path";
import { groupOf, groups, testFiles } from "./together.ts";

const events: string[] = [];

describe("the vitest adapter", () => {
  beforeAll(() => void events.push("all"));
  beforeEach(() => void events.push("each"));
  afterAll(() => expect(events[0]).toBe("all"));

  describe("inside", () => {
    beforeEach(() => void events.push("each inner"));
    it("runs hooks from the outside in, and beforeAll once", () => {
      expect(events).toEqual(["all", "each", "each inner"]);
    });
  });
  it("does not run hooks of a sibling", () => {
    expect(events).toEqual(["all", "each", "each inner", "each"]);
  });
  it("fails a wrong assertion, also behind 'rejects'", async () => {
    expect(() => expect(1).toBe(2)).toThrow();
    await expect(Promise.reject(new RangeError("no"))).rejects.toThrow("no");
  });
  it("compares arrays of samples number by number", () => {
    const samples = Float64Array.of(1, NaN, -0);
    expect({ samples }).toEqual({ samples: Float64Array.of(1, NaN, 0) });
    for (
      const other of [
        Float64Array.of(1, NaN),
        Float64Array.of(1, 2, 0),
        Float64Array.of(1, NaN, 1e-300),
      ]
    ) {
      expect({ samples }).not.toEqual({ samples: other });
      expect(() => expect(samples).toEqual(other)).toThrow();
    }
    expect(samples).not.toStrictEqual(Float32Array.of(1, NaN, -0));
  });
});

describe("the groups of test files", () => {
  it("hold every file, and each has a file that runs it", () => {
    const files = testFiles();
    expect(files).toContain("vitest_test.ts");
    expect(files.filter((path) => groupOf(path) === undefined)).toEqual([]);
    const used = [...new Set(files.map((path) => groupOf(path)!))].sort();
    expect(used).toEqual(Object.keys(groups));
    const runners = [...Deno.readDirSync(new URL("together", import.meta.url))];
    expect(runners.map(({ name }) => name).sort())
      .toEqual(used.map((group) => `${group}.ts`));
    for (const group of used) {
      expect(
        Deno.readTextFileSync(new URL(`together/${group}.ts`, import.meta.url)),
      )
        .toContain("await together(import.meta);");
    }
  });
});

describe("the names of failed tests at the end of CI", () => {
  const failing = async (log: string): Promise<string[]> => {
    const path = await Deno.makeTempFile();
    await Deno.writeTextFile(path, log);
    const { stdout } = await new Deno.Command("bash", {
      args: [fromFileUrl(new URL("../.ci/failing", import.meta.url)), path],
    }).output();
    await Deno.remove(path);
    return new TextDecoder().decode(stdout).trim().split("\n");
  };

  it("are taken from the list of 'deno test', colours or not", async () => {
    const log = `./a_test.ts => a > b ... \x1b[31mFAILED\x1b[0m (1ms)
FAILED: a line of another kind

\x1b[41m FAILURES \x1b[0m

a > b \x1b[38;5;245m=> ./tests/vitest.ts:146:8\x1b[0m
./tests/c_test.ts (uncaught error)

FAILED | 3 passed | 2 failed (1s)

error: Test failed`;
    expect(await failing(log)).toEqual([
      "a line of another kind",
      "a > b",
      "./tests/c_test.ts (uncaught error)",
    ]);
  });
  it("are taken from checks in a browser, of Python and of the tour", async () => {
    const log = `FAILED: zoom: the axis
Error: no axis
order: replies come in order
  FAILED (1.4 s)
Traceback (most recent call last):
FAIL: test_pager (__main__.KernelTests.test_pager)
failed 03_direction in 2.0 s (1 of 17)
1 passed, 4 failed`;
    expect(await failing(log)).toEqual([
      "zoom: the axis",
      "order: replies come in order",
      "FAIL: test_pager (__main__.KernelTests.test_pager)",
      "failed 03_direction in 2.0 s (1 of 17)",
    ]);
  });
  it("give way to the last lines where none is named", async () => {
    expect(await failing("one\n\nerror: types are wrong\n")).toEqual([
      "no test is named; the last lines are:",
      "one",
      "error: types are wrong",
    ]);
  });
});
