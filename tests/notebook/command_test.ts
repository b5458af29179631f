import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { task } from "../../lib/cli/run.ts";
import { performTask } from "../../lib/cli/task/mod.ts";
import { code, NotebookFolder, notebookOf } from "./harness.ts";

const script = fromFileUrl(new URL("../../lib/cli/run.ts", import.meta.url));

async function command(...args: string[]) {
  const { code, stdout, stderr } = await new Deno.Command(Deno.execPath(), {
    args: ["run", "-A", "--quiet", "--no-check", script, ...args],
  }).output();
  const decoder = new TextDecoder();
  return { code, out: decoder.decode(stdout), err: decoder.decode(stderr) };
}

/** The same without a process of its own, for what ends at once. */
async function called(...args: string[]) {
  const { error } = console;
  const said: string[] = [];
  console.error = (line: string) => void said.push(line);
  try {
    const code = await performTask(task, args);
    return { code, err: said.join("\n") };
  } finally {
    console.error = error;
  }
}

describe("the command that runs notebooks", () => {
  let folder: NotebookFolder;

  beforeAll(async () => {
    folder = await NotebookFolder.create();
    await folder.add(
      "a.ipynb",
      notebookOf(code("p", "let n = 1", ["parameters"]), code("q", "n * 2")),
    );
    await folder.add("b.ipynb", notebookOf(code("x", "1;\nnope()")));
  });
  afterAll(() => folder.remove());

  it("ends with 0, an executed notebook, a page and a summary", async () => {
    const output = join(folder.path, "out");
    const ran = await command(
      join(folder.path, "a.ipynb"),
      ...["--output", output, "--page", "--parameter", "n=21", "--json", "-"],
    );
    expect(ran.err).toContain("3 of 3 cells ran well");
    expect(ran.code).toBe(0);
    expect(JSON.parse(ran.out).ok).toBe(true);
    expect(await Deno.readTextFile(join(output, "a.ipynb"))).toContain('"42"');
    expect(await Deno.readTextFile(join(output, "a.html"))).toContain(
      "42</pre>",
    );
  });

  it("ends with 1 where a cell fails, and names cell, line and message", async () => {
    const ran = await command(folder.path, "--parallel", "2", "--quiet");
    expect(ran.code).toBe(1);
    expect(ran.err).toContain(
      "error in cell 1 (x), line 2: ReferenceError: nope is not defined",
    );
    expect(ran.err).toContain("2 | nope()");
  });

  it("runs only its part of a folder", async () => {
    const ran = await command(folder.path, "--shard", "1/2", "--json", "-");
    expect(ran.code).toBe(0);
    expect(JSON.parse(ran.out).notebooks.length).toBe(1);
  });

  it("ends with 2 where it was called wrongly", async () => {
    const wrong = [
      [],
      ["none.ipynb"],
      [folder.path, "--shard", "3/2"],
      [folder.path, "--timeout", "soon"],
      [folder.path, "--parallel", "0"],
      [folder.path, "--parameter", "n"],
      [folder.path, "--unknown"],
    ];
    for (const args of wrong) {
      const { code, err } = await called(...args);
      expect([args, code]).toEqual([args, 2]);
      expect(err).not.toContain("    at ");
    }
    const { code, err } = await called(
      join(folder.path, "a.ipynb"),
      "--parameter",
      "m=1",
    );
    expect([code, err.includes("does not declare it")]).toEqual([2, true]);
  });
});
