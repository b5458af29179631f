import { describe, expect, it } from "vitest";
import { cell } from "./harness.ts";

/** The bundle of the last value of a cell. */
async function shown(code: string): Promise<Record<string, unknown>> {
  const { outcome, error } = await cell(code);
  expect(error).toBe("");
  return outcome.status === "ok" ? outcome.result?.data ?? {} : {};
}

describe("a value as the last line", () => {
  it("is a table where it is an array of rows", async () => {
    const bundle = await shown("[{ current: 0.04, steps: 3 }]");
    expect(bundle["text/html"]).toContain("<table");
    expect(bundle["text/plain"]).toContain("current");
  });

  it("is a quantity with unit and expanded uncertainty, also inside an object", async () => {
    const length =
      "({ value: 0.2, standardUncertainty: 1e-3, unit: 'm', coverageFactor: 2 })";
    expect((await shown(length))["text/plain"]).toBe(
      "(200.0 ± 2.0) mm, k = 2",
    );
    const table = await shown(`({ distance: ${length}, target: "A" })`);
    expect(table["text/html"]).toContain("(200.0 ± 2.0) mm, k = 2");
  });

  it("is a picture where it is SVG text or the bytes of a PNG file", async () => {
    const svg = await shown(`'<svg width="2" height="1"></svg>'`);
    expect(svg["text/html"]).toContain("data:image/svg+xml;base64,");
    const png = await shown(
      "Uint8Array.of(0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a)",
    );
    expect(png["image/png"]).toBe("iVBORw0KGgo=");
    // The first bytes of each form: JFIF 1.02 (ITU-T T.871) and GIF89a.
    const jpeg = await shown("Uint8Array.of(0xff, 0xd8, 0xff, 0xe0)");
    expect(jpeg["image/jpeg"]).toBe("/9j/4A==");
    const gif = await shown("new TextEncoder().encode('GIF89a')");
    expect(gif["image/gif"]).toBe("R0lGODlh");
    const element = await shown(
      `({ nodeType: 1, outerHTML: "<b>bold</b>" })`,
    );
    expect(element["text/html"]).toBe("<b>bold</b>");
  });

  it("is each result with its figure where it is all that measureCapture() found", async () => {
    const { outputs, outcome } = await cell(`
import { loadDataset, measureCapture } from "fringebook";
measureCapture(await loadDataset("light-current-25c"), { wavelength: 650e-9 })
`);
    const displays = outputs.flatMap((output) =>
      output.type === "display_data" ? [output.data] : []
    );
    expect(displays.length).toBeGreaterThan(2);
    expect(displays.some((data) => "image/png" in data)).toBe(true);
    expect(outcome.status === "ok" && outcome.result?.data["text/plain"])
      .toMatch(/shown above: .*check/);
  });

  it("is a figure where it is data and layout of plotly.js", async () => {
    const bundle = await shown(
      "({ data: [{ y: [1, 2] }], layout: { title: { text: 'A line' } } })",
    );
    expect(bundle["text/plain"]).toBe("Figure: A line");
    expect(bundle["image/png"]).toBeDefined();
  });

  it("says to write await where it is a promise", async () => {
    expect((await shown("Promise.resolve(1)"))["text/plain"]).toContain(
      "write 'await'",
    );
  });

  it("is cut where it is long, with the size named", async () => {
    const text = String((await shown("'x'.repeat(2e6)"))["text/plain"]);
    expect(text.length).toBeLessThan(101_000);
    expect(text).toMatch(/of 2000002 characters left out/);
  });

  it("is whole in all other cases: short text, numbers, arrays, own classes", async () => {
    expect((await shown("'short'"))["text/plain"]).toBe('"short"');
    expect((await shown("[1, 2, 3]"))["text/plain"]).toBe("[ 1, 2, 3 ]");
    expect((await shown("new (class Mine { a = 1 })()"))["text/plain"])
      .toBe("Mine { a: 1 }");
  });
});

describe("what is at hand in every cell", () => {
  it("has what a computation had finished under _ when the person stopped it", async () => {
    const stopped = await cell(`
import { keepFinished, checkpoint, setCheckpointHandler } from "fringebook/progress";
const listener = setCheckpointHandler(() => {
  throw new Error("stopped here");
});
try {
  keepFinished({ check: 1 }, () => keepFinished({ fit: 2 }, () => checkpoint(0.5)));
} finally {
  setCheckpointHandler(listener);
}
`);
    expect(stopped.error).toContain("stopped here");
    expect(stopped.text).toBe(
      "Finished before the interrupt, kept in _: check, fit\n",
    );
    expect((await cell("_")).value).toBe("{ check: 1, fit: 2 }");
    // An error of another kind tells of no part.
    const other = await cell(
      `import { keepFinished as keep } from "fringebook/progress"; keep({ a: 1 }, () => { throw new Error("other"); })`,
    );
    expect(other.text).toBe("");
  });

  it("has the last values under _, __ and ___, and lets a cell take the names", async () => {
    await cell("11");
    await cell("22");
    await cell("33");
    expect((await cell("[_, __, ___].join()")).value).toBe('"33,22,11"');
    expect((await cell("const _ = 'mine'; _")).value).toBe('"mine"');
  });

  it("lists the variables with kind and size", async () => {
    await cell(
      "const samples = new Float64Array(1000); let note = 'ab'; function twice(x) { return 2 * x }",
    );
    const { value } = await cell("await cell.variables()");
    expect(value).toMatch(/samples +Float64Array +1000 entries, 8\.0 kB/);
    expect(value).toMatch(/note +string +2 characters/);
    expect(value).toMatch(/twice +function/);
    expect(value).not.toContain("__fringebook");
  });

  it("has the runtime's documented interface for notebooks", async () => {
    const { outputs } = await cell(`
const { display, html, md, svg, image, broadcast, $display } = Deno.jupyter;
await display(html\`<b>\${1 + 1}</b>\`);
await display(md\`**bold**\`);
await display(svg\`<svg></svg>\`);
await display(image(Uint8Array.of(0x89, 0x50, 0x4e, 0x47)));
await display({ "text/plain": "raw" }, { raw: true, display_id: "d" });
await display({ "text/plain": "new" }, { raw: true, display_id: "d", update: true });
await display({ [$display]: () => ({ "text/plain": "own" }) });
await broadcast("display_data", { data: { "text/plain": "sent" }, metadata: {}, transient: { display_id: "e" } });
`);
    const seen = outputs.map((output) =>
      "data" in output && "displayId" in output
        ? [
          output.type,
          output.displayId,
          ...Object.entries(output.data as object)[0]!,
        ]
        : []
    );
    expect(seen.map(([type, id, mime]) => [type, id, mime])).toEqual([
      ["display_data", null, "text/html"],
      ["display_data", null, "text/markdown"],
      ["display_data", null, "image/svg+xml"],
      ["display_data", null, "image/png"],
      ["display_data", "d", "text/plain"],
      ["update_display_data", "d", "text/plain"],
      ["display_data", null, "text/plain"],
      ["display_data", "e", "text/plain"],
    ]);
    expect(seen[0]![3]).toBe("<b>2</b>");
    const { error } = await cell("await Deno.jupyter.broadcast('odd', {})");
    expect(error).toContain("Cannot broadcast 'odd'");
  });

  it("reads an edited local module again and says so, and names what it keeps", async () => {
    const folder = await Deno.makeTempDir();
    try {
      const write = async (name: string, text: string, at: number) => {
        await Deno.writeTextFile(`${folder}/${name}`, text);
        await Deno.utime(`${folder}/${name}`, at, at);
      };
      await write("below.ts", "export const low = 1;", 1000);
      await write(
        "mine.ts",
        "import { low } from './below.ts'; export const value = 10 + low;",
        1000,
      );
      const source = `import { value } from "${folder}/mine.ts"; value`;
      expect((await cell(source)).value).toBe("11");
      expect((await cell(source)).text).toBe("");
      await write(
        "mine.ts",
        "import { low } from './below.ts'; export const value = 20 + low;",
        2000,
      );
      const again = await cell(source);
      expect([again.value, again.text]).toEqual([
        "21",
        "mine.ts changed: read again\n",
      ]);
      await write("below.ts", "export const low = 5;", 3000);
      const stale = await cell(source);
      expect(stale.value).toBe("21");
      expect(stale.text).toContain("below.ts changed since");
      expect(stale.text).toContain("restart the kernel");
    } finally {
      await Deno.remove(folder, { recursive: true });
    }
  });

  it("refuses plotly.js with what to use instead", async () => {
    for (
      const code of [
        'import Plotly from "plotly.js"; Plotly',
        'await import("plotly.js")',
        'const name = "plotly.js"; await import(name)',
      ]
    ) expect((await cell(code)).error).toContain("createFigure");
  });

  // Loads danfojs, which takes seconds.
  it("lets danfojs read a local file, shows its frames, and says what plots", async () => {
    const file = await Deno.makeTempFile({ suffix: ".csv" });
    try {
      await Deno.writeTextFile(file, "stroke,steps\nup,1\ndown,2\nup,3\n");
      const { outcome, error } = await cell(
        `const { readCSV } = await import("danfojs"); const frame = await readCSV(${
          JSON.stringify(file)
        }); frame`,
      );
      expect(error).toBe("");
      const data = outcome.status === "ok" ? outcome.result?.data : {};
      expect(data?.["text/html"]).toContain("<td");
      expect((await cell("frame['steps']")).value).toContain("steps");
      expect((await cell("frame.plot('div').line()")).error).toContain(
        "createFigure",
      );
    } finally {
      await Deno.remove(file);
    }
  });
});
