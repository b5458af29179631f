import { describe, expect, it } from "vitest";
import { type Compared, compareRuns, signTest } from "./compare.ts";
import type { Outcome } from "./record.ts";

const record = (name: string, outcome: Outcome, error: number): Compared => ({
  name,
  motion: "sine",
  draw: {},
  ours: {
    outcome,
    error,
    overBound: null,
    doubted: false,
    warnings: [],
    cpu: 1,
    reason: null,
  },
});

describe("the comparison of two runs of the zoo", () => {
  it("signTest() is the two-sided binomial test", () => {
    // SciPy: binomtest(k, n).pvalue.
    expect(signTest(0, 5)).toBeCloseTo(0.0625, 12);
    expect(signTest(8, 2)).toBeCloseTo(0.109375, 12);
    expect(signTest(20, 5)).toBeCloseTo(0.004077315330505371, 12);
    expect(signTest(5, 5)).toBe(1);
    expect(signTest(0, 0)).toBe(1);
    // Beyond 1000 pairs by the normal distribution.
    expect(signTest(600, 500)).toBeCloseTo(0.0028, 3);
  });

  it("pairs benches by name and counts what turned", () => {
    const before = [
      record("a", "right", 0.02),
      record("b", "confident", 3),
      record("c", "right", 0.04),
      record("gone", "right", 0.01),
    ];
    const now = [
      record("a", "right", 0.01),
      record("b", "right", 0.05),
      record("c", "warned", 0.6),
      record("new", "right", 0.01),
    ];
    const c = compareRuns(now, before);
    expect(c.paired).toBe(3);
    expect(c.gained.map(({ name }) => name)).toEqual(["b"]);
    expect(c.lost.map(({ name }) => name)).toEqual(["c"]);
    expect([c.calmed, c.alarmed]).toEqual([1, 0]);
    expect([c.closer, c.further]).toEqual([1, 0]);
    expect(c.errorRatio).toBe(0.5);
  });
});
