import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { lost, TestSession } from "./harness.ts";

describe("a session that ends under a cell", () => {
  let session: TestSession;

  beforeAll(async () => {
    session = await TestSession.create({ memoryLimit: 256 });
  });
  afterAll(() => session.close());

  const ends: Record<string, { code: string; says: string }> = {
    "Deno.exit": {
      code: "console.log('before'); Deno.exit(3)",
      says: "exit code 3",
    },
    "process.exit": {
      code: "import process from 'node:process'; process.exit(4)",
      says: "exit code 4",
    },
    "objects without end": {
      code:
        "const all: number[][] = []; for (;;) all.push(new Array(1e5).fill(Math.random()))",
      says: "more memory than its limit of 256 MB",
    },
    "arrays without end": {
      code:
        "const all: Float64Array[] = []; for (;;) { all.push(new Float64Array(1e6).fill(1)); await new Promise((r) => setTimeout(r, 1)) }",
      says: "more memory than its limit of 256 MB",
    },
    "a broken message to the kernel": {
      code:
        "import { writeSync } from 'node:fs'; writeSync(1, new Uint8Array([0xff, 0x46, 0xfe, 0x42, 0xff, 0, 0xfe, 1, 255, 255, 255, 255, 0, 0, 0, 9])); await new Promise((r) => setTimeout(r, 1000))",
      says: "variables were lost",
    },
  };
  for (const [what, { code, says }] of Object.entries(ends)) {
    it(`by ${what} fails with a plain message, and the next cell runs`, async () => {
      await session.run("let before = 1");
      const ran = await session.run(code);
      expect(lost(ran)).toBe(true);
      expect(ran.error).toContain(says);
      expect(ran.error).toContain("variables were lost");
      expect(ran.error).not.toContain("panicked");
      expect(ran.text.replace("before\n", "")).toBe("");
      expect((await session.run("typeof before")).value).toBe('"undefined"');
    });
  }

  it("by files that were removed and stay open says so", async () => {
    const small = await TestSession.create({ unlinkedLimit: 20 });
    try {
      const ran = await small.run(`
        const open = [];
        for (let n = 0; n < 40; n++) {
          const file = Deno.openSync("gone", { create: true, write: true });
          Deno.removeSync("gone");
          open.push(file);
          for (let k = 0; k < 4; k++) file.writeSync(new Uint8Array(1e6));
          await new Promise((r) => setTimeout(r, 100));
        }`);
      if (Deno.build.os === "linux") {
        expect(lost(ran)).toBe(true);
        expect(ran.error).toContain("more than its limit of 20 MB");
      }
      // What a folder shows is the person's own affair.
      const shown = await small.run(
        "for (let n = 0; n < 5; n++) { Deno.writeFileSync(`kept${n}`, new Uint8Array(1e7)); await new Promise((r) => setTimeout(r, 100)) } 1",
      );
      expect(shown.error).toBe("");
    } finally {
      await small.close();
    }
  });

  it("does not end by a signal that the terminal sends to all", async () => {
    await session.run("let signalled = 7");
    const pid = Number((await session.run("Deno.pid")).value);
    Deno.kill(pid, "SIGINT");
    const busy = session.run(
      "const end = Date.now() + 300; while (Date.now() < end); signalled",
    );
    await new Promise((resolve) => setTimeout(resolve, 150));
    Deno.kill(pid, "SIGINT");
    expect((await busy).value).toBe("7");
  });

  it("between cells says so at once, under the last cell", async () => {
    await session.run("let between = 1; setTimeout(() => Deno.exit(5), 50)");
    const said = () =>
      [...session.outputs.values()].at(-1)!.flatMap((output) =>
        output.type === "stream" ? [output.text] : []
      ).join("");
    for (let n = 0; n < 400 && said() === ""; n++) {
      await new Promise((resolve) => setTimeout(resolve, 25));
    }
    expect(said()).toContain("exit code 5");
    expect(said()).toContain("variables were lost");
    expect((await session.run("typeof between")).value).toBe('"undefined"');
  });

  it("keeps what was printed just before a crash", async () => {
    const ran = await session.run(
      "for (let n = 0; n < 5; n++) console.log('line', n); const all = []; for (;;) all.push(new Array(1e6).fill(all.length))",
    );
    expect(lost(ran)).toBe(true);
    expect(ran.text).toContain("line 4");
  });

  it("keeps every line of a burst up to a crash", async () => {
    const lines = 3000;
    const ran = await session.run(
      `import process from "node:process"; for (let n = 1; n <= ${lines}; n++) console.log(n); process.abort()`,
    );
    expect(lost(ran)).toBe(true);
    expect(ran.text.trim().split("\n").at(-1)).toBe(String(lines));
    expect(ran.text.trim().split("\n").length).toBe(lines);
  });

  it("keeps the outputs that came before", async () => {
    const ran = await session.run("console.log('first words'); Deno.exit(0)");
    expect(ran.text).toBe("first words\n");
  });
});

describe("work that a cell has begun and does not await", () => {
  let session: TestSession;

  beforeAll(async () => {
    session = await TestSession.create();
    await session.run(`let kept = 5;
const fill = () => { const all = []; for (let i = 0; i < 2e6; i++) all.push({ i }); };
const begin = () => { void Promise.resolve().then(fill); };`);
  });
  afterAll(() => session.close());

  // The engine ends a process that collects garbage between the end of a script
  // and its own callback.
  const cells: Record<string, string> = {
    "a value": "begin(); kept + 1",
    "a variable": "begin(); let next = kept + 1; next",
    "what is awaited": "begin(); await Promise.resolve(kept + 1)",
    "an error": "begin(); null.x",
    "an error of a variable": "begin(); let none = null.x",
    "an error that is awaited":
      "begin(); await Promise.reject(new TypeError())",
  };
  for (const [end, code] of Object.entries(cells)) {
    it(`may fill the memory, where the cell ends by ${end}`, async () => {
      const ran = await session.run(code);
      if (end.includes("error")) expect(ran.error).toContain("TypeError");
      else expect(ran.value).toBe("6");
      expect((await session.run("kept")).value).toBe("5");
    });
  }
});

describe("a session whose owner is gone", () => {
  it("ends, also in the middle of a loop", async () => {
    const script = `
      import { SessionInterpreter } from ${
      JSON.stringify(
        new URL("../../../lib/kernel/session/mod.ts", import.meta.url).href,
      )
    };
      const session = new SessionInterpreter({ notebookFolder: Deno.cwd() });
      void session.execute({ code: "console.log(Deno.pid); for (;;) {}", executionCount: 1, cellId: null, silent: false, userExpressions: {} }, {
        requestId: "1",
        publish: (output) => console.log(output.text.trim()),
        requestInput: () => Promise.resolve(""),
        ready: () => Promise.resolve(),
      });`;
    const owner = new Deno.Command(Deno.execPath(), {
      args: [
        "run",
        "-A",
        "--quiet",
        `--config=${new URL("../../../deno.json", import.meta.url).pathname}`,
        `data:text/typescript,${encodeURIComponent(script)}`,
      ],
      stdout: "piped",
      stderr: "inherit",
    }).spawn();
    const reader = owner.stdout.getReader();
    const { value } = await reader.read();
    const pid = Number(new TextDecoder().decode(value));
    expect(pid).toBeGreaterThan(0);
    owner.kill("SIGKILL");
    await owner.status;
    await reader.cancel();
    let alive = true;
    for (let i = 0; i < 50 && alive; i++) {
      await new Promise((resolve) => setTimeout(resolve, 100));
      alive = await isAlive(pid);
    }
    expect(alive).toBe(false);
  });
});

/** Asks the process table, as a signal 0 is not to be had. */
async function isAlive(pid: number): Promise<boolean> {
  const { stdout } = await new Deno.Command("ps", {
    args: ["-o", "stat=", "-p", String(pid)],
  }).output();
  const state = new TextDecoder().decode(stdout).trim();
  return state !== "" && !state.startsWith("Z");
}
