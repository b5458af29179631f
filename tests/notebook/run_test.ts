import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { join } from "@std/path";
import {
  type NotebookOutput,
  readNotebook,
  runMany,
  runNotebook,
  runSummary,
  shardOf,
} from "../../lib/notebook/mod.ts";
import { SessionInterpreter } from "../../lib/kernel/session/mod.ts";
import {
  earlierRun,
  fingerprintOf,
  inputsOf,
} from "../../lib/notebook/earlier_run.ts";
import { runKey } from "../../lib/notebook/run_key.ts";
import { code, NotebookFolder, notebookOf } from "./harness.ts";

describe("a run of a notebook", () => {
  let folder: NotebookFolder;

  beforeAll(async () => {
    folder = await NotebookFolder.create();
  });
  afterAll(() => folder.remove());

  it("tells what a long cell does while it goes on, and keeps nothing of it", async () => {
    const path = await folder.add(
      "long.ipynb",
      notebookOf(code(
        "a",
        `import { checkpoint } from "fringebook/progress/mod.ts";
        for (let i = 0; i < 30; i++) {
          checkpoint(i / 30, "sum samples");
          await new Promise((resolve) => setTimeout(resolve, 50));
        }`,
      )),
    );
    const told: string[] = [];
    const run = await runNotebook(path, {
      onWork: ({ done, total, text }) => told.push(`${done}/${total} ${text}`),
    });
    expect(run.status).toBe("ok");
    // A cell says what it does from its second second on.
    expect(told[0]).toMatch(/^0\/1 sum samples: \d+ %, [\d.]+ s left$/);
    expect(told.at(-1)).toMatch(/^0\/1 Done in/);
    expect(run.notebook.cells[0]!.outputs).toEqual([]);
  });

  it("saves values, streams, displays and updates in their cells", async () => {
    const path = await folder.add(
      "good.ipynb",
      notebookOf(
        code("a", "const x = 20; console.log('one'); console.log('two'); x"),
        code(
          "b",
          "await cell.display('first', { displayId: 'd' }); await Deno.writeTextFile('beside.txt', String(x))",
        ),
        code("c", "await cell.updateDisplay('d', 'second'); x * 2"),
        code(
          "d",
          "console.log('gone'); cell.clearOutput({ wait: true }); console.log('stays')",
        ),
        code("e", "   "),
      ),
    );
    const run = await runNotebook(path);
    expect(run.status).toBe("ok");
    expect(run.cells.map(({ status }) => status)).toEqual([
      "ok",
      "ok",
      "ok",
      "ok",
    ]);
    expect(await Deno.readTextFile(join(folder.path, "beside.txt"))).toBe("20");
    const { cells } = await readNotebook(path);
    const outputs = cells.map((cell) => cell.outputs as NotebookOutput[]);
    expect(outputs[0]).toEqual([
      { output_type: "stream", name: "stdout", text: ["one\n", "two\n"] },
      {
        output_type: "execute_result",
        execution_count: 1,
        data: { "text/plain": ["20"] },
        metadata: {},
      },
    ]);
    expect(outputs[1]).toEqual([{
      output_type: "display_data",
      data: { "text/plain": ['"second"'] },
      metadata: {},
    }]);
    expect(outputs[2]?.length).toBe(1);
    expect(outputs[3]).toEqual([
      { output_type: "stream", name: "stdout", text: ["stays\n"] },
    ]);
    expect(cells.map((cell) => cell.execution_count)).toEqual([
      1,
      2,
      3,
      4,
      null,
    ]);
  });

  it("stops at a cell that fails, with cell, line and message, and saves before", async () => {
    const path = await folder.add(
      "bad.ipynb",
      notebookOf(
        code("a", "1"),
        code("b", "const y = 2;\n\nthrow new RangeError('too far')"),
        code("c", "3"),
      ),
    );
    const outputPath = join(folder.path, "executed", "bad.ipynb");
    const run = await runNotebook(path, { outputPath });
    expect(run.status).toBe("failed");
    expect(run.failed).toBe(1);
    expect(run.cells.map(({ status }) => status)).toEqual([
      "ok",
      "error",
      "not run",
    ]);
    expect(run.cells[1]?.error).toEqual(
      expect.objectContaining({
        ename: "RangeError",
        message: "too far",
        line: 3,
      }),
    );
    expect(run.summary).toBe(
      "error in cell 2 (b), line 3: RangeError: too far",
    );
    const saved = await readNotebook(outputPath);
    expect(saved.cells[1]?.outputs?.[0]).toEqual(
      expect.objectContaining({ output_type: "error", ename: "RangeError" }),
    );
    expect((await readNotebook(path)).cells[1]?.outputs).toEqual([]);
  });

  it("goes on after an error where that is allowed, or expected by a tag", async () => {
    const cells = () =>
      notebookOf(
        code("a", "throw new Error('meant')", ["raises-exception"]),
        code("b", "undefinedName"),
        code("c", "3"),
      );
    const path = await folder.add("errors.ipynb", cells());
    const strict = await runNotebook(path);
    expect(strict.cells.map(({ status }) => status)).toEqual([
      "error",
      "error",
      "not run",
    ]);
    expect([strict.status, strict.failed]).toEqual(["failed", 1]);
    const lax = await runNotebook(path, { allowErrors: true });
    expect(lax.cells.map(({ status }) => status)).toEqual([
      "error",
      "error",
      "ok",
    ]);
    expect([lax.status, lax.failed]).toEqual(["ok", null]);
  });

  it("counts a cell that takes too long as a failure, also where errors are allowed", async () => {
    const path = await folder.add(
      "slow.ipynb",
      notebookOf(code("a", "await new Promise(() => {})"), code("b", "1")),
    );
    const run = await runNotebook(path, { timeout: 0.3, allowErrors: true });
    expect(run.cells.map(({ status }) => status)).toEqual([
      "timeout",
      "not run",
    ]);
    expect(run.status).toBe("failed");
    expect(run.summary).toContain("longer than its limit of 0.3 s");
  });

  it("counts a session that dies as a failure, also where errors are allowed", async () => {
    const path = await folder.add(
      "dead.ipynb",
      notebookOf(code("a", "Deno.exit(0)"), code("b", "1")),
    );
    const run = await runNotebook(path, { allowErrors: true });
    expect(run.cells.map(({ status }) => status)).toEqual(["dead", "not run"]);
    expect(run.status).toBe("failed");
  });

  it("can be stopped from outside; what did not run is not run", async () => {
    const path = await folder.add(
      "stopped.ipynb",
      notebookOf(code("a", "await new Promise(() => {})"), code("b", "1")),
    );
    const stop = new AbortController();
    const run = await runNotebook(path, {
      signal: stop.signal,
      createInterpreter: (options) => {
        const session = new SessionInterpreter(options);
        const execute = session.execute.bind(session);
        session.execute = (request, context) => {
          setTimeout(() => stop.abort(), 100);
          return execute(request, context);
        };
        return session;
      },
    });
    expect(run.cells.map(({ status }) => status)).toEqual([
      "aborted",
      "not run",
    ]);
    expect(run.status).toBe("failed");
    expect((await readNotebook(path)).cells[0]?.outputs?.length).toBe(1);
  });

  it("says at once that nobody can answer a question", async () => {
    const path = await folder.add(
      "ask.ipynb",
      notebookOf(code("a", "await input('?')")),
    );
    const run = await runNotebook(path);
    expect(run.summary).toContain("nobody sits at a headless run");
  });

  it("takes parameters", async () => {
    const path = await folder.add(
      "parameters.ipynb",
      notebookOf(
        code("a", "const length = 1;", ["parameters"]),
        code("b", "length * 2"),
      ),
    );
    const run = await runNotebook(path, { parameters: { length: 21 } });
    expect(run.notebook.cells.at(-1)?.outputs?.[0]).toEqual(
      expect.objectContaining({ data: { "text/plain": "42" } }),
    );
    await expect(runNotebook(path, { parameters: { width: 1 } })).rejects
      .toThrow(
        "does not declare it",
      );
  });

  it("is taken over on resume where nothing changed, and only then", async () => {
    const path = await folder.add(
      "resume.ipynb",
      notebookOf(code("a", "1 + 1")),
    );
    const outputPath = join(folder.path, "executed", "resume.ipynb");
    const keyFile = join(folder.path, "state", "run.key");
    const run = () => runNotebook(path, { outputPath, resume: true, keyFile });
    expect((await run()).status).toBe("ok");
    expect((await run()).status).toBe("kept");
    // The owner alone can read the key.
    if (Deno.build.os !== "windows") {
      expect((await Deno.stat(keyFile)).mode! & 0o777).toBe(0o600);
    }
    // Whatever is forged in the result, it is not taken over.
    const fingerprint = await fingerprintOf(await readNotebook(path), {});
    const earlier = async (key = keyFile) =>
      await earlierRun(outputPath, {
        fingerprint,
        inputs: await inputsOf(folder.path),
      }, await runKey(key));
    expect(await earlier()).not.toBe(null);
    const kept = await Deno.readTextFile(outputPath);
    const changes: [string, string][] = [
      ['"2"', '"3"'],
      ['"execution_count": 1', '"execution_count": 2'],
      ['"nbformat_minor": 5', '"nbformat_minor": 5, "more": 1'],
      [/"signature": "../.exec(kept)![0], '"signature": "00'],
      [/"signature": "../.exec(kept)![0], '"signature": "zz'],
      [/"signature": "[^"]*"/.exec(kept)![0], '"signature": null'],
    ];
    for (const [before, after] of changes) {
      await Deno.writeTextFile(outputPath, kept.replace(before, after));
      expect(await earlier()).toBe(null);
    }
    await Deno.writeTextFile(outputPath, kept);
    expect(await earlier()).not.toBe(null);
    // Nor is one that a stranger's machine made, or after other readings.
    expect(await earlier(join(folder.path, "state", "other.key"))).toBe(null);
    const readings = join(folder.path, "readings.csv");
    await Deno.writeTextFile(readings, "1,2");
    expect(await earlier()).toBe(null);
    await Deno.remove(readings);
    await folder.add("resume.ipynb", notebookOf(code("a", "1 + 2")));
    expect((await run()).status).toBe("ok");
    await folder.add("resume.ipynb", notebookOf(code("a", "throw 1")));
    expect((await run()).status).toBe("failed");
    expect((await run()).status).toBe("failed");
  });

  it("keeps both ends of a very long stream and says what it left out", async () => {
    const path = await folder.add(
      "long.ipynb",
      notebookOf(
        code("a", "for (let i = 0; i < 200000; i++) console.log('line ' + i)"),
      ),
    );
    const run = await runNotebook(path);
    expect(run.status).toBe("ok");
    const [output] = run.notebook.cells[0]!.outputs!;
    const text = output?.output_type === "stream" ? String(output.text) : "";
    expect(text.startsWith("line 0\nline 1\n")).toBe(true);
    expect(text.endsWith("line 199999\n")).toBe(true);
    expect(text).toContain("characters left out");
    // A million characters are kept, and one message of the session more.
    expect(text.length).toBeLessThan(1.1e6);
    // In the file each line has a quote, a comma and an indent of its own.
    expect((await Deno.stat(path)).size).toBeLessThan(2.5e6);
  });
});

describe("runs of many notebooks", () => {
  it("go on after a bad file, run side by side, and are summed up for machines", async () => {
    const folder = await NotebookFolder.create();
    const good = await folder.add("good.ipynb", notebookOf(code("a", "1")));
    const bad = await folder.add(
      "bad.ipynb",
      notebookOf(code("a", "1;\nthrow 2")),
    );
    const none = join(folder.path, "none.ipynb");
    await Deno.writeTextFile(none, "no notebook");
    const told: string[] = [];
    const outcomes = await runMany([none, good, bad], {
      parallel: 3,
      outputFolder: join(folder.path, "out"),
      onDone: ({ path }) => told.push(path),
    });
    expect(told.length).toBe(3);
    const summary = runSummary(outcomes);
    expect(JSON.parse(JSON.stringify(summary))).toEqual(summary);
    expect(summary.ok).toBe(false);
    expect(summary.notebooks.map(({ status }) => status)).toEqual([
      "error",
      "ok",
      "failed",
    ]);
    expect(summary.notebooks[2]?.cells[0]).toEqual(
      expect.objectContaining({
        cell: 1,
        id: "a",
        status: "error",
        line: null,
      }),
    );
    await folder.remove();
  });

  it("of one name do not overwrite one another", async () => {
    await expect(runMany(["a/x.ipynb", "b/x.ipynb"], { outputFolder: "out" }))
      .rejects.toThrow("'x.ipynb' stands twice");
  });

  it("are split into parts that together are the whole", () => {
    const items = Array.from({ length: 11 }, (_, index) => index);
    for (const count of [1, 2, 3, 11, 20]) {
      const parts = Array.from(
        { length: count },
        (_, at) => shardOf(items, { index: at + 1, count }),
      );
      expect(parts.flat().sort((a, b) => a - b)).toEqual(items);
      const sizes = parts.map(({ length }) => length);
      expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1);
    }
    expect(() => shardOf(items, { index: 0, count: 2 })).toThrow(RangeError);
    expect(() => shardOf(items, { index: 3, count: 2 })).toThrow(RangeError);
  });
});
