import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { lost, TestSession } from "./harness.ts";

describe("an interrupt", () => {
  let session: TestSession;

  beforeAll(async () => {
    session = await TestSession.create({ interruptGrace: 1500 });
    await session.run(
      "const kept = 42; const sleep = (ms: number) => new Promise((r) => setTimeout(r, ms));",
    );
  });
  afterAll(() => session.close());

  // Within a second, variables kept: the project's own goal.
  const cells: Record<string, string> = {
    "a tight loop": "for (;;) {}",
    "a loop without a block": "let n = 0; while (true) n++;",
    "a loop of a function":
      "function spin() { do { Math.sqrt(2) } while (true) } spin()",
    "a recursion":
      "const fib = (n: number): number => n < 2 ? n : fib(n - 1) + fib(n - 2); fib(70)",
    "a callback that is called very often":
      "Array.from({ length: 4e9 }, (_, i) => i % 7)",
    "an await": "await new Promise(() => {})",
    "a loop of awaits": "for (;;) await sleep(5)",
    "a loop of awaits that never wait": "for (;;) await null",
    "an await in a function":
      "async function deep() { for (;;) { await sleep(1e6) } } await deep()",
    "an endless iteration":
      "async function* endless() { for (;;) { await sleep(1); yield 1 } } for await (const x of endless()) void x;",
    "a computation of the library":
      "const { checkpoint } = await import('fringebook/progress/mod.ts'); for (const x of [1]) { (0, eval)('(f) => { for (;;) f(0.5) }')(checkpoint) }",
    "a question": "await input('?')",
    "a question that blocks": "prompt('?')",
    "a form of a value that takes long":
      "({ [Symbol.for('Jupyter.display')]: () => new Promise(() => {}) })",
  };
  for (const [what, code] of Object.entries(cells)) {
    it(`stops ${what} within a second and keeps the variables`, async () => {
      const ran = await session.interrupted(code, {
        requestInput: () => new Promise(() => {}),
      });
      expect(ran.outcome.status === "error" && ran.outcome.ename).toBe(
        "KeyboardInterrupt",
      );
      expect(ran.latency).toBeLessThan(1);
      expect(lost(ran)).toBe(false);
      expect((await session.run("kept")).value).toBe("42");
    });
  }

  it("ends a live view, whose value comes back, and the next one stops the cell", async () => {
    await session.run(
      `const { createSimulatedBench, watch } = await import("fringebook");
       const bench = createSimulatedBench({ samplingRate: 8000 });`,
    );
    /** Interrupts when the third picture is there. */
    const stopped = (code: string) => {
      let pictures = 0;
      return session.run(code, {
        publish: ({ type }) => {
          if (type === "update_display_data" && ++pictures === 3) {
            void session.session.interrupt();
          }
        },
      });
    };
    const ran = await stopped("(await watch(bench)).ended");
    expect(ran.value).toContain("stopped");
    // The cell goes on for longer than an interrupt is waited for.
    const late = await stopped(
      "const view = await watch(bench); await sleep(2000); view.duration > 0",
    );
    expect(late.value).toBe("true");
    const again = await session.interrupted("await sleep(1e6)");
    expect(again.outcome.status).toBe("error");
    expect((await session.run("kept")).value).toBe("42");
  });

  it("lets the cell clean up", async () => {
    const ran = await session.interrupted(
      "try { await sleep(1e6) } finally { await sleep(10); console.log('clean') }",
    );
    expect(ran.text).toBe("clean\n");
    expect(ran.error).toContain("KeyboardInterrupt");
  });

  it("stops what comes after it, too", async () => {
    await session.interrupted("await sleep(500); console.log('never')");
    const ran = await session.run("await sleep(300); 1");
    expect(ran.value).toBe("1");
    expect(
      [...session.outputs.values()].flat().some((output) =>
        output.type === "stream" && output.text.includes("never")
      ),
    ).toBe(false);
  });

  it("stops the work that the cell left in the background, without a word", async () => {
    const ran = await session.interrupted(
      "const aside = (async () => { await sleep(1e6) })(); await sleep(1e6)",
    );
    await session.run("await sleep(50)");
    expect(ran.text).toBe("");
  });

  it("stops a timer of an earlier cell that keeps the cell from starting", async () => {
    await session.run("setTimeout(() => { for (;;); }, 0); 0");
    await new Promise((resolve) => setTimeout(resolve, 100));
    const ran = await session.interrupted("5");
    expect(lost(ran)).toBe(false);
    expect((await session.run("kept")).value).toBe("42");
  });

  it("does nothing when no cell runs", async () => {
    await session.session.interrupt();
    expect(
      (await session.run("let m = 0; for (let i = 0; i < 1e5; i++) m++; kept"))
        .value,
    )
      .toBe("42");
  });

  it("stops a cell whose session is still being started", async () => {
    const fresh = await TestSession.create();
    const running = fresh.run("for (;;) {}");
    await fresh.session.interrupt();
    expect((await running).error).toContain("KeyboardInterrupt");
    expect((await fresh.run("1")).value).toBe("1");
    await fresh.close();
  });

  it("restarts the session where a cell is deaf to it, and says so", async () => {
    const ran = await session.interrupted("'a'.repeat(40).match(/(a+)+b/)");
    expect(lost(ran)).toBe(true);
    expect(ran.error).toContain("KeyboardInterrupt");
    expect(ran.error).toContain("The variables were lost");
    // The grace of this session, and the end of a process.
    expect(ran.latency).toBeLessThan(3);
    expect((await session.run("typeof kept")).value).toBe('"undefined"');
  });
});
