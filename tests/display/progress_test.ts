import { progress } from "fringebook";
import { describe, expect, it } from "vitest";

const cellSymbol = Symbol.for("fringebook.cell");

interface Published {
  type: string;
  displayId: string | null;
  data: Record<string, string>;
}

function cell(): Published[] {
  const outputs: Published[] = [];
  (globalThis as Record<symbol, unknown>)[cellSymbol] = {
    publish: (output: Published) => outputs.push(output),
  };
  return outputs;
}

function noCell(): void {
  delete (globalThis as Record<symbol, unknown>)[cellSymbol];
}

/** A clock that moves by `step` s each time it is read. */
function ticking(step: number): () => number {
  let now = 0;
  return () => now += step;
}

describe("progress()", () => {
  it("updates one output by its display id, with rate and time left", async () => {
    const outputs = cell();
    try {
      let sum = 0;
      const steps = progress([1, 2, 3, 4], {
        label: "Adding",
        clock: ticking(1),
      });
      for await (const step of steps) sum += step;
      expect(sum).toBe(10);
    } finally {
      noCell();
    }
    expect(outputs[0]!.type).toBe("display_data");
    expect(new Set(outputs.map(({ displayId }) => displayId)).size).toBe(1);
    expect(outputs.slice(1).every(({ type }) => type === "update_display_data"))
      .toBe(true);
    const texts = outputs.map(({ data }) => data["text/plain"]!);
    expect(texts[0]).toBe("Adding: 0 of 4 (0 %)");
    expect(
      texts.some((text) =>
        /2 of 4 \(50 %\), .* per second, .* left/.test(text)
      ),
    )
      .toBe(true);
    expect(texts.at(-1)).toMatch(/^Adding: 4 of 4 \(100 %\), .* in all$/);
  });

  it("updates no more often than the interval", async () => {
    const outputs = cell();
    try {
      const steps = progress(Array.from({ length: 10_000 }), {
        clock: ticking(1e-4),
        interval: 0.2,
      });
      for await (const _ of steps);
    } finally {
      noCell();
    }
    expect(outputs.length).toBeLessThan(10);
  });

  it("takes streams of unknown length and says where a loop stopped", async () => {
    const outputs = cell();
    try {
      const stream = new ReadableStream<number>({
        start(controller) {
          for (let k = 0; k < 5; k++) controller.enqueue(k);
          controller.close();
        },
      });
      for await (const step of progress(stream, { label: "<Reading>" })) {
        if (step === 3) break;
      }
    } finally {
      noCell();
    }
    expect(outputs.at(-1)!.data["text/plain"]).toBe(
      "<Reading>: stopped after 3",
    );
    expect(outputs.at(-1)!.data["text/html"]).toContain("&lt;Reading&gt;");
  });

  it("writes nothing when piped", async () => {
    const code = `import { progress } from "fringebook";
for await (const _ of progress([1, 2, 3], { interval: 0 }));`;
    const { stdout, stderr } = await new Deno.Command(Deno.execPath(), {
      args: ["eval", "--quiet", code],
      stdout: "piped",
      stderr: "piped",
    }).output();
    expect(new TextDecoder().decode(stderr)).toBe("");
    expect(stdout.length).toBe(0);
  });
});
