import { decodeBase64 } from "@std/encoding/base64";
import {
  createFigure,
  display,
  drawPicture,
  quantity,
  showDataFrame,
  table,
} from "fringebook";
import { bundleOfValue, isFigure } from "fringebook/display";
import { createResult, provenance } from "fringebook/result";
import { describe, expect, it } from "vitest";
import { sampleResult } from "./sample_results.ts";

const show = Symbol.for("Jupyter.display");
const cellSymbol = Symbol.for("fringebook.cell");

interface Published {
  type: string;
  data: Record<string, unknown>;
  metadata: Record<string, unknown>;
}

/** Runs `work` as the code of a notebook cell and gives what it published. */
async function inCell(work: () => Promise<void>): Promise<Published[]> {
  const outputs: Published[] = [];
  const scope = globalThis as Record<symbol, unknown>;
  scope[cellSymbol] = { publish: (output: Published) => outputs.push(output) };
  try {
    await work();
  } finally {
    delete scope[cellSymbol];
  }
  return outputs;
}

/** Width and height in the header of a PNG file (ISO/IEC 15948, 11.2.2). */
function pngSize(png: Uint8Array): [number, number] {
  expect([...png.slice(0, 8)]).toEqual([137, 80, 78, 71, 13, 10, 26, 10]);
  const view = new DataView(png.buffer, png.byteOffset);
  return [view.getUint32(16), view.getUint32(20)];
}

describe("a figure", () => {
  const figure = createFigure({
    data: [{ type: "scatter", x: [0, 1, 2], y: [0, 1, 4], name: "<b>" }],
    layout: { xaxis: { title: { text: "Time (s)" } } },
    caption: "A parabola",
  });

  it("shows as plotly data, a picture, HTML with the picture and no script, and a line of text", async () => {
    const bundle = await bundleOfValue(figure);
    expect(Object.keys(bundle).sort()).toEqual([
      "application/vnd.plotly.v1+json",
      "image/png",
      "text/html",
      "text/plain",
    ]);
    const html = bundle["text/html"] as string;
    expect(html).toContain(
      `src="data:image/png;base64,${bundle["image/png"]}"`,
    );
    expect(html).toContain('alt="A parabola"');
    expect(html).not.toMatch(/<script/i);
    const packed = /data-fringebook-figure="([^"]+)"/.exec(html)?.[1] ?? "";
    const stream = new Blob([decodeBase64(packed)]).stream()
      .pipeThrough(new DecompressionStream("deflate"));
    const live = await new Response(stream).json();
    expect(live.data[0].y).toEqual([0, 1, 4]);
    expect(bundle["text/plain"]).toBe("Figure: A parabola");
    const png = decodeBase64(bundle["image/png"] as string);
    expect(pngSize(png)).toEqual([1520, 800]);
    const { data, layout } = bundle["application/vnd.plotly.v1+json"] as {
      data: unknown[];
      layout: { template: unknown };
    };
    expect(data.length).toBe(1);
    expect(layout.template).toBeDefined();
  });

  it("asks for the library of the figures once per cell that holds it, and never without a cell", async () => {
    const outputs: { metadata?: Record<string, unknown>; data?: unknown }[] =
      [];
    const asked: string[] = [];
    const scope = globalThis as Record<symbol, unknown>;
    const key = Symbol.for("fringebook.cell");
    scope[key] = {
      publish: () => {},
      publishOnce: async (name: string, make: () => Promise<never>) => {
        if (asked.push(name) === 1) outputs.push(await make());
      },
    };
    try {
      await bundleOfValue(figure);
      await bundleOfValue(figure);
    } finally {
      delete scope[key];
    }
    expect(asked).toEqual(["figure library", "figure library"]);
    expect(outputs[0]?.metadata).toEqual({ fringebook_library: "plotly.js" });
    // Once for a notebook: half of what it may add to it.
    expect(JSON.stringify(outputs[0]).length).toBeLessThan(750_000);
  });

  it("takes typed arrays and long lines, and stays within its budget with every spike", async () => {
    const y = new Float64Array(300_000);
    y[123_456] = 7;
    const long = createFigure({
      data: [1, 2, 3, 4].map((k) => ({
        type: "scatter",
        x: y.map((_, n) => k + n / 3),
        y,
      })),
      caption: "Four long lines",
    });
    const bundle = await bundleOfValue(long);
    expect(JSON.stringify(bundle).length).toBeLessThan(300_000);
    const { data } = bundle["application/vnd.plotly.v1+json"] as {
      data: { x: number[]; y: number[] }[];
    };
    for (const [k, trace] of data.entries()) {
      expect(trace.x.length).toBe(trace.y.length);
      expect(trace.x[trace.y.indexOf(7)]).toBe(k + 1 + 123_456 / 3);
    }
  });

  it("draws text at its place: a longer axis label moves the panel to the right", async () => {
    const left = async (text: string) => {
      const { svg } = await drawPicture(
        createFigure({
          data: [{ x: [1, 2], y: ["a", text], type: "scatter" }],
          caption: "labels",
        }),
        { scale: 1 },
      );
      return Number(
        /axesclip" id="clip\w+x"><rect x="([\d.]+)"/.exec(svg)?.[1] ?? NaN,
      );
    };
    const short = await left("b");
    const long = await left("a label of forty characters, or nearly so");
    expect(long).toBeGreaterThan(short + 100);
  });

  it("draws a heat map with its colours", async () => {
    const { svg, png } = await drawPicture(
      createFigure({
        data: [{ type: "heatmap", z: [[0, 1], [1, 0]] }],
        caption: "squares",
      }),
      { scale: 1 },
    );
    expect(svg).toContain("data:image/png;base64,");
    expect(svg).not.toMatch(/url\(['"]/);
    expect(pngSize(png)).toEqual([760, 400]);
  });

  it("draws figures asked for at once one after the other", async () => {
    const pictures = await Promise.all([1, 2, 3].map((factor) =>
      drawPicture(
        createFigure({
          data: [{ y: [0, factor] }],
          layout: { height: 100 * factor + 100 },
          caption: "line",
        }),
        { scale: 1 },
      )
    ));
    expect(pictures.map(({ png }) => pngSize(png)[1])).toEqual([200, 300, 400]);
  });
});

describe("a result in a notebook", () => {
  it("publishes its figure above and gives its table, so that neither hides the other", async () => {
    const result = sampleResult("x");
    let bundle: Record<string, unknown> = {};
    const outputs = await inCell(async () => {
      bundle = await bundleOfValue(result);
    });
    expect(Object.keys(bundle)).toEqual([
      "text/html",
      "text/markdown",
      "text/plain",
      "application/vnd.fringebook.report+json",
    ]);
    expect(bundle["text/html"]).toContain("only 3 steps");
    expect(outputs.length).toBe(1);
    expect(outputs[0]!.type).toBe("display_data");
    expect(Object.keys(outputs[0]!.data)).toContain("image/png");
    expect(outputs[0]!.data["text/plain"]).toBe("Figure: A line x");
    expect(outputs[0]!.metadata).toEqual({
      "image/png": { width: 760, height: 400 },
    });
  });

  it("carries its picture inside the HTML where there is no session to publish to", async () => {
    const bundle = await bundleOfValue(sampleResult("x"));
    expect(bundle["text/html"]).toContain('<img alt="A line x"');
    expect(bundle["text/html"]).toContain("data:image/png;base64,");
    expect(bundle["text/html"]).not.toContain("<script");
  });

  it("shows without a presenter", async () => {
    const strange = createResult({
      kind: "nobody.knows",
      warnings: [],
      provenance: provenance({ method: "m" }),
      diagnostics: {},
    });
    expect((await bundleOfValue(strange))["text/plain"]).toContain("Knows");
  });
});

describe("figure()", () => {
  it("gives the first or the named figure and names the others in the error", () => {
    const result = sampleResult("x");
    expect(isFigure(result.figure())).toBe(true);
    expect(isFigure(result.figure("line"))).toBe(true);
    expect(() => result.figure("circle")).toThrow("'line'");
    const none = createResult({
      kind: "nobody.knows",
      warnings: [],
      provenance: provenance({ method: "m" }),
      diagnostics: {},
    });
    expect(() => none.figure()).toThrow("has none");
  });
});

describe("display()", () => {
  it("publishes one output under the cell", async () => {
    const outputs = await inCell(async () => {
      await display([{ current: 0.04, power: 1e-3 }]);
      await display("text");
      await display({ a: 1 });
    });
    expect(outputs.map(({ data }) => Object.keys(data).includes("text/html")))
      .toEqual([true, false, false]);
    expect(outputs[1]!.data["text/plain"]).toBe("text");
  });
});

describe("table()", () => {
  const rows = Array.from({ length: 30 }, (_, k) => ({
    step: k,
    current: k / 1000,
    label: k % 2 ? "<odd>" : "even",
  }));

  it("shows units, alignment and a row limit", async () => {
    const shown = table(rows, { units: { current: "A" }, limit: 5 });
    expect(shown.heads).toEqual(["step", "current (A)", "label"]);
    expect(shown.numeric).toEqual([true, true, false]);
    const { "text/html": html, "text/plain": text } = await bundleOfValue(
      shown,
    );
    expect(html).toContain("5 of 30 rows shown");
    expect(html).toContain("&lt;odd&gt;");
    expect(html).toContain('<th scope="col"');
    expect(String(text).split("\n").length).toBe(7);
  });

  it("shows empty tables, missing values, dates and objects", () => {
    expect(table([]).heads).toEqual([]);
    expect(table([{ l: quantity(0.2, 0.001, "m") }]).cells).toEqual([
      ["200.0(1.0) mm"],
    ]);
    const shown = table([
      { a: null, b: NaN, c: new Date(0), d: { e: 1 } },
      { a: 1, b: 2n },
    ]);
    expect(shown.cells).toEqual([
      ["", "NaN", "1970-01-01T00:00:00.000Z", '{"e":1}'],
      ["1", "2", "", ""],
    ]);
  });
});

describe("toDataFrame()", () => {
  it("makes a danfojs data frame that shows as a table", async () => {
    // deno-lint-ignore no-explicit-any
    const frame = await sampleResult("x").toDataFrame() as any;
    expect(frame.columns).toEqual([
      "name",
      "value",
      "standardUncertainty",
      "unit",
    ]);
    expect(frame.shape[0]).toBe(8);
    const shown = showDataFrame(frame, { limit: 3 });
    expect(shown.cells.length).toBe(3);
    const bundle = await bundleOfValue(frame);
    expect(bundle["text/html"]).toContain("wavelength");
  });
});

it("has the method that notebooks call", () => {
  expect(typeof Reflect.get(sampleResult("x"), show)).toBe("function");
});
