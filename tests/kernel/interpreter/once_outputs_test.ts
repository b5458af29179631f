import { describe, expect, it } from "vitest";
import { OnceOutputs } from "../../../lib/kernel/interpreter/once_outputs.ts";
import type { Output } from "../../../lib/kernel/protocol/mod.ts";

const text: Output = { type: "stream", name: "stdout", text: "library" };

/** A notebook whose cells need the same output; gives who published it. */
function notebook() {
  const once = new OnceOutputs();
  const published: string[] = [];
  const run = async (
    cellId: string | null,
    code: string,
    { silent = false, needs = true } = {},
  ) => {
    const place = { cellId, code };
    const port = {
      publish: () => void published.push(code),
      requestInput: () => Promise.reject(new Error("no input")),
    };
    once.forget({ place });
    if (needs) {
      await once.publish(
        { place, silent, port },
        "key",
        () => Promise.resolve(text),
      );
    }
  };
  return { run, published };
}

describe("an output that a notebook needs once", () => {
  it("is published by the first cell that needs it, and again when that cell runs again", async () => {
    const { run, published } = notebook();
    await run("a", "first");
    await run("b", "second");
    await run("a", "first");
    expect(published).toEqual(["first", "first"]);
  });

  it("moves to the next cell that needs it where its own needs it no more", async () => {
    const { run, published } = notebook();
    await run("a", "first");
    await run("a", "edited", { needs: false });
    await run("b", "second");
    expect(published).toEqual(["first", "second"]);
  });

  it("knows a cell without an id by its code, also after a line was edited", async () => {
    const { run, published } = notebook();
    await run(null, "a\nb\nc");
    await run(null, "x\ny\nz");
    await run(null, "a\nb\nd");
    expect(published).toEqual(["a\nb\nc", "a\nb\nd"]);
  });

  it("is not spent on a run whose outputs nobody sees", async () => {
    const { run, published } = notebook();
    await run("a", "silent", { silent: true });
    await run("b", "seen");
    expect(published).toEqual(["seen"]);
  });
});
