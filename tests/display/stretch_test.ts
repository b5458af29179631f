import { describe, expect, it } from "vitest";
import { createCapture, type Figure } from "fringebook";
import { envelope, legibleStretch } from "../../lib/display/figures/mod.ts";

const fringes = (count: number, samples = 40_000) =>
  Float64Array.from(
    { length: samples },
    (_, k) => Math.sin(2 * Math.PI * count * k / samples),
  );

describe("legibleStretch()", () => {
  it("takes a record of up to 200 fringes whole, and 40 fringes of a longer one", () => {
    expect(legibleStretch(fringes(150)).whole).toBe(true);
    const { from, to, whole } = legibleStretch(fringes(1000));
    expect(whole).toBe(false);
    // 40 fringes of 40 samples, to a sample at either end.
    expect(Math.abs(to - from - 1600)).toBeLessThanOrEqual(2);
  });

  it("takes fringes of the usual rate where most of the record stands still", () => {
    const samples = new Float64Array(100_000);
    samples.set(fringes(1000), 60_000);
    const { from, to } = legibleStretch(samples);
    expect(from).toBeGreaterThanOrEqual(60_000);
    expect(to).toBeLessThanOrEqual(100_000);
  });

  it("takes a flat, an empty and a missing signal whole", () => {
    for (const samples of [[], [1, 1, 1], [NaN, NaN]]) {
      expect(legibleStretch(samples).whole).toBe(true);
    }
  });
});

describe("envelope()", () => {
  it("holds every spike and leaves out what is missing", () => {
    const samples = new Float64Array(10_000).fill(NaN, 0, 5000);
    samples[7777] = 9;
    const { at, high } = envelope(samples, 100);
    expect(at.length).toBe(50);
    expect(Math.max(...high)).toBe(9);
  });
});

describe("the figure of a long capture", () => {
  it("opens on a stretch, with the whole record under it and the stretch marked", () => {
    const capture = createCapture([{
      name: "A",
      role: "monitor signal",
      unit: "V",
      samples: fringes(1000),
    }], { samplingRate: 40_000 });
    const { data, layout } = capture.figure() as Figure & {
      layout: {
        xaxis: { range: [number, number] };
        xaxis2: { range: [number, number] };
        shapes: { xref: string; x0: number; x1: number }[];
      };
    };
    const [low, high] = layout.xaxis.range;
    expect(high - low).toBeCloseTo(0.04, 3); // s: 40 of 1000 fringes in 1 s
    expect(layout.xaxis2.range[1]).toBeCloseTo(1, 3);
    expect(layout.shapes.map(({ xref, x0, x1 }) => [xref, x0, x1]))
      .toEqual([["x2", low, high]]);
    expect(data.at(-1)?.xaxis).toBe("x2");
  });
});
