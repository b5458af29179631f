import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { gainOf } from "../../lib/range/count_gain.ts";
import type { RampCount } from "../../lib/range/count_ramp.ts";

const samples = 400;

/** A made-up count of four strokes that leaves white noise of some size. */
function countOf(misfits: readonly number[], alike = 0): RampCount {
  const random = createRandom(5);
  const parts = misfits.map((misfit) => {
    const noise = new Float64Array(samples);
    for (let i = 0; i < samples; i++) {
      noise[i] = alike * (noise[i - 1] ?? 0) + random.normal();
    }
    return {
      misfit,
      sampleNoise: 1,
      fitted: new Float64Array(samples),
      y: noise,
    };
  });
  return {
    counts: parts.map(({ misfit, sampleNoise, fitted }) => ({
      misfit,
      sampleNoise,
      fitted,
    })),
    signals: parts.map(({ y }) => ({ x: new Float64Array(samples), y })),
    strokes: parts.map((_, k) => ({
      direction: k % 2 === 0 ? "up" : "down",
      start: k * samples,
      end: (k + 1) * samples,
    })),
  } as unknown as RampCount;
}

// Schwarz, Ann. Statist. 6, 461 (1978): −2 ln L + k ln n; and a thousandth for the
// chance of a false alarm.
describe("the evidence for a hop or a lag, Schwarz's criterion", () => {
  it("weighs what is gained against k ln n and the false alarms", () => {
    const before = countOf([1, 1, 1, 1]);
    const n = 4 * samples;
    const threshold = (unknowns: number) =>
      unknowns * Math.log(n) - 2 * Math.log(1e-3);
    for (const unknowns of [1, 3]) {
      // Twice n ln of the ratio of the misfits, as squares count.
      const ratio = Math.exp(-threshold(unknowns) / (2 * n));
      // White noise is a little alike by chance: a tenth of the threshold.
      const more = ratio ** 1.15;
      const less = ratio ** 0.9;
      expect(gainOf(before, countOf([more, more, more, more]), unknowns))
        .toBeGreaterThan(0);
      expect(gainOf(before, countOf([less, less, less, less]), unknowns))
        .toBeLessThan(0);
    }
  });

  it("asks for more where neighbouring samples share their noise", () => {
    const better = [0.98, 0.98, 0.98, 0.98];
    const white = gainOf(countOf([1, 1, 1, 1]), countOf(better), 1);
    const alike = gainOf(countOf([1, 1, 1, 1], 0.8), countOf(better, 0.8), 1);
    expect(white).toBeGreaterThan(0);
    expect(alike).toBeLessThan(0);
  });

  it("does not count a gain on a single stroke, as where a knock disturbs it", () => {
    expect(gainOf(countOf([3, 1, 1, 1]), countOf([1, 1, 1, 1]), 1))
      .toBe(-Infinity);
  });
});
