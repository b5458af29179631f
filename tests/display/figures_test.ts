import type { Figure } from "fringebook";
import { presenterFor } from "fringebook/result";
import { describe, expect, it } from "vitest";
import { sampleMeasurements } from "./sample_measurements.ts";
import { matchSnapshot } from "./snapshot.ts";

const results = sampleMeasurements();

const figures = Object.entries(results).flatMap(([name, result]) =>
  (presenterFor(result.kind)?.report(result).figures ?? []).map((
    { name: part },
  ) => [`${name}, ${part}`, result.figure(part) as Figure] as const)
);

type Axis = { title?: { text?: string } };

describe("every figure", () => {
  it("exists for every kind of measurement", () => {
    expect(figures.length).toBeGreaterThan(12);
  });

  for (const [name, figure] of figures) {
    it(`of ${name} has titles with units, short JSON and no gap at its start`, () => {
      const json = JSON.stringify(figure);
      // The budget of the project: 300 kB with its picture.
      expect(json.length).toBeLessThan(200_000);
      expect(figure.caption.length).toBeGreaterThan(10);
      const { title } = figure.layout as Axis;
      expect(title?.text?.length).toBeGreaterThan(3);
      for (const [key, value] of Object.entries(figure.layout)) {
        if (!/^[xy]axis/.test(key)) continue;
        const { type, title } = value as Axis & { type?: string };
        if (type === "category") continue;
        expect(title?.text?.length).toBeGreaterThan(0);
      }
      for (const trace of figure.data) {
        const xs = trace.x as (number | null)[];
        expect(xs.length).toBeGreaterThan(0);
        expect(xs.some((x) => x !== null)).toBe(true);
      }
    });

    it(`of ${name} is as its snapshot`, async () => {
      await matchSnapshot(name, figure);
    });
  }
});
