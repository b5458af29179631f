import { thinTrace } from "fringebook/display";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";

describe("thinTrace()", () => {
  it("keeps the highest and lowest value of every stretch and both ends", () => {
    const random = createRandom(7);
    for (let trial = 0; trial < 50; trial++) {
      const samples = Float64Array.from(
        { length: 5000 + random.integer(5000) },
        () => random.normal(),
      );
      const { indices } = thinTrace(samples, { points: 200 });
      expect(indices.length).toBeLessThanOrEqual(200);
      expect(indices[0]).toBe(0);
      expect(indices.at(-1)).toBe(samples.length - 1);
      for (let k = 1; k < indices.length; k++) {
        expect(indices[k]! > indices[k - 1]!).toBe(true);
      }
      const kept = Array.from(indices, (index) => samples[index]!);
      expect(Math.max(...kept)).toBe(Math.max(...samples));
      expect(Math.min(...kept)).toBe(Math.min(...samples));
    }
  });

  it("keeps 100 spikes of one sample in 10 million samples", () => {
    const samples = new Float32Array(10_000_000);
    const random = createRandom(3);
    const spikes = Array.from({ length: 100 }, () => random.integer(1e7));
    for (const at of spikes) samples[at] = 1 + random.uniform();
    const { indices, thinned } = thinTrace(samples, { points: 3000 });
    expect(thinned).toBe(true);
    const highest = new Map<number, number>();
    const width = 1e7 / 1499;
    for (const at of spikes) {
      const stretch = Math.floor(at / width);
      const best = highest.get(stretch) ?? at;
      highest.set(stretch, samples[at]! > samples[best]! ? at : best);
    }
    const kept = new Set(indices);
    for (const at of highest.values()) expect(kept.has(at)).toBe(true);
  });

  it("gives a short trace back whole and marks gaps of NaN", () => {
    expect([...thinTrace([3, 1, 2]).indices]).toEqual([0, 1, 2]);
    expect(thinTrace([]).indices.length).toBe(0);
    const samples = new Float64Array(10_000).fill(1);
    samples.fill(NaN, 4000, 5000);
    const { indices } = thinTrace(samples, { points: 100 });
    expect(indices.length).toBeLessThanOrEqual(100);
    expect([...indices].some((index) => Number.isNaN(samples[index]!)))
      .toBe(true);
  });

  it("throws for fewer than four points", () => {
    expect(() => thinTrace([1, 2, 3], { points: 3 })).toThrow(RangeError);
  });
});
