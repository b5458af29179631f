/**
 * Several decays of one record, averaged: how often the interval of 95 % holds the
 * truth, and how far the estimates are off.
 */
import { describe, expect, it } from "vitest";
import { measureRingDown } from "fringebook";
import { createRandom } from "fringebook/signal";
import { madeDisplacement } from "./made_displacement.ts";

const turn = 2 * Math.PI;

describe("averaged decays", () => {
  it("hold frequency and damping in 95 % of 60 records of four taps", () => {
    const random = createRandom(2303);
    const uniform = (low: number, high: number) =>
      low + (high - low) * random.uniform();
    const trials = 60;
    let all = 0;
    const inside = { naturalFrequency: 0, dampingRatio: 0 };
    const squares = { naturalFrequency: 0, dampingRatio: 0 };
    for (let trial = 0; trial < trials; trial++) {
      const truth = {
        naturalFrequency: uniform(90, 160),
        dampingRatio: uniform(0.015, 0.04),
      };
      const omega = turn * truth.naturalFrequency;
      const damped = omega * Math.sqrt(1 - truth.dampingRatio ** 2);
      const taps = [0.1, 0.45, 0.8, 1.15].map((at) => ({
        at: at + uniform(0, 0.05),
        height: uniform(0.8e-6, 1.6e-6),
      }));
      const noise = 10 ** uniform(-9, -8);
      const place = (time: number) =>
        taps.reduce((sum, { at, height }) => {
          const t = time - at;
          return t < 0 ? sum : sum + height *
              Math.exp(-truth.dampingRatio * omega * t) * Math.sin(damped * t);
        }, 0);
      const samplingRate = 6e3;
      const found = measureRingDown(madeDisplacement(
        Float64Array.from(
          { length: 9000 },
          (_, i) => place(i / samplingRate) + noise * random.normal(),
        ),
        samplingRate,
        noise,
      ));
      if (found.decays.length === 4) all++;
      for (const key of ["naturalFrequency", "dampingRatio"] as const) {
        const { value, standardUncertainty: u, expandedUncertainty } =
          found[key];
        const off = value - truth[key];
        squares[key] += (off / u) ** 2;
        if (Math.abs(off) <= expandedUncertainty) inside[key]++;
      }
    }
    const share = (count: number) => (100 * count / trials).toFixed(0);
    console.log(
      `all four found in ${all} of ${trials}; inside U: frequency ${
        share(inside.naturalFrequency)
      } %, damping ${share(inside.dampingRatio)} %; errors ${
        Math.sqrt(squares.naturalFrequency / trials).toFixed(2)
      } and ${Math.sqrt(squares.dampingRatio / trials).toFixed(2)} u (rms)`,
    );
    expect(all).toBe(trials);
    // 95 % of 60 is 57; a binomial standard deviation is 1.7.
    expect(inside.naturalFrequency).toBeGreaterThanOrEqual(53);
    expect(inside.dampingRatio).toBeGreaterThanOrEqual(53);
  });
});
