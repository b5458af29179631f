import { describe, expect, it } from "vitest";
import {
  checkAnswer,
  compareWithTruth,
  diagnoseMistake,
  quantity,
} from "fringebook";

const exercise = {
  name: "speed.disc",
  truth: 0.25,
  unit: "m/s",
  relativeTolerance: 0.02,
  needsUncertainty: false,
  pitfalls: { "missing cosine": 0.25 * Math.cos(1.2) },
};

describe("checkAnswer", () => {
  it("accepts an answer within the tolerance and refuses one outside", () => {
    expect(checkAnswer(exercise, { value: 0.2549, unit: "m/s" }).right).toBe(
      true,
    );
    expect(checkAnswer(exercise, { value: 0.256, unit: "m/s" }).right).toBe(
      false,
    );
  });
  it("widens the tolerance by a stated uncertainty, but not without limit", () => {
    const near = { value: 0.26, unit: "m/s", standardUncertainty: 0.004 };
    expect(checkAnswer(exercise, near).right).toBe(true);
    const vague = { value: 0.4, unit: "m/s", standardUncertainty: 1 };
    expect(checkAnswer(exercise, vague).right).toBe(false);
  });
  it("names each kind of mistake without giving the answer", () => {
    const cases = [
      [0.5, "factor 2"],
      [0.125, "factor 2"],
      [-0.25, "sign"],
      [250, "unit prefix"],
      [0.25 * 2 * Math.PI, "factor 2 pi"],
      [0.25 * Math.cos(1.2), "missing cosine"],
    ] as const;
    for (const [value, kind] of cases) {
      const check = checkAnswer(exercise, { value, unit: "m/s" });
      expect(check.right).toBe(false);
      expect(check.mistake).toBe(kind);
      expect(JSON.stringify(check)).not.toMatch(/0\.25\b/);
    }
  });
  it("asks for a number, the unit and an uncertainty where they are missing", () => {
    expect(checkAnswer(exercise, { value: NaN, unit: "m/s" }).message).toMatch(
      /No number/,
    );
    expect(checkAnswer(exercise, { value: 250, unit: "mm/s" }).message).toMatch(
      /without a prefix/,
    );
    expect(
      checkAnswer({ ...exercise, needsUncertainty: true }, {
        value: 0.25,
        unit: "m/s",
      }).message,
    ).toMatch(/standardUncertainty/);
  });
});

describe("diagnoseMistake", () => {
  it("says nothing where the number does not tell", () => {
    expect(diagnoseMistake(0.77, { truth: 0.25, tolerance: 0.005 })).toBe(null);
  });
});

describe("compareWithTruth", () => {
  it("agrees exactly up to the expanded uncertainty", () => {
    // E = |x - x0| / U: 1.9 u and 2.1 u with k = 2 lie on either side of 1.
    const at = (errors: number) =>
      compareWithTruth(quantity(1 + errors * 0.01, 0.01, "m"), {
        label: "distance",
        truth: 1,
      });
    expect(at(1.9).agrees).toBe(true);
    expect(at(2.1).agrees).toBe(false);
    expect(at(2.1).normalizedError).toBeCloseTo(1.05, 10);
  });
  it("refuses a comparison without an uncertainty", () => {
    expect(() =>
      compareWithTruth(quantity(1, 0, "m"), { label: "distance", truth: 1 })
    ).toThrow("must be positive");
  });
});
