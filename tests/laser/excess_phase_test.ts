import { describe, expect, it } from "vitest";
import {
  excessPhase,
  feedbackPhase,
  feedbackPhaseRoots,
} from "fringebook/laser";
import fixture from "./fixtures/excess_phase.json" with { type: "json" };

// Independent solver, residual below 1e-13 (ten digits given): roots of the
// equation of Lang, Kobayashi 1980; stable ones first in each pair.
const table: [number, number, number, [number, boolean][]][] = [
  [0.1, 5, 0, [[-0.0957344160, true]]],
  [0.1, 5, 3, [[3.0970884647, true]]],
  [0.1, 5, 6, [[5.9155431590, true]]],
  [0.5, 5, 0, [[-0.4104423470, true]]],
  [0.5, 5, 1, [[0.5268983238, true]]],
  [0.5, 5, 2, [[2.2169017251, true]]],
  [0.5, 5, 4, [[4.2903055298, true]]],
  [0.9, 3, 1, [[0.1185219571, true]]],
  [0.9, 3, 2, [[2.5499741456, true]]],
  [0.9, 3, 5, [[5.0161709006, true]]],
  [2, 5, 1, [[-0.5143915431, true]]],
  [2, 5, 2, [
    [0.0284685417, true],
    [1.5320041223, false],
    [3.7953359055, true],
  ]],
  [2, 5, 4, [[4.6033405034, true]]],
  [3, 4, 2, [
    [-0.3990500244, true],
    [1.7234659281, false],
    [4.1556516775, true],
  ]],
  [3, 4, 3, [
    [0.0543462145, true],
    [1.1522083811, false],
    [4.4521068889, true],
  ]],
  [6, 5, 3, [
    [-0.7073436946, true],
    [1.5187352412, false],
    [4.6339721681, true],
  ]],
  [6, 5, 5, [
    [-0.2929685745, true],
    [1.0494726862, false],
    [4.9226727689, true],
    [8.7201522356, false],
    [10.1582661848, true],
  ]],
];

const turn = 2 * Math.PI;

describe("feedbackPhaseRoots()", () => {
  it("gives the tabulated roots and their stability", () => {
    for (const [c, alpha, phase, expected] of table) {
      const roots = feedbackPhaseRoots(phase, {
        feedbackParameter: c,
        linewidthEnhancementFactor: alpha,
      });
      expect(roots.map(({ stable }) => stable)).toEqual(
        expected.map(([, stable]) => stable),
      );
      roots.forEach((root, i) =>
        // Half a unit of the tenth decimal printed.
        expect(Math.abs(root.phase - expected[i]![0])).toBeLessThan(6e-11)
      );
    }
  });

  it("agrees with SciPy's brentq at 60 random C, α, φ0", () => {
    for (const { c, alpha, phi0, roots } of fixture.roots) {
      const found = feedbackPhaseRoots(phi0, {
        feedbackParameter: c,
        linewidthEnhancementFactor: alpha,
      });
      expect(found.length).toBe(roots.length);
      found.forEach((root, i) =>
        // brentq's own tolerance, 1e-14 absolute and 1e-15 relative, is worse
        // near a fold, where the function is flat.
        expect(Math.abs(root.phase - roots[i]!)).toBeLessThan(1e-11)
      );
    }
  });

  it("refuses numbers that are not physical", () => {
    expect(() => feedbackPhaseRoots(NaN, { feedbackParameter: 1 })).toThrow(
      "'phase' must be a finite number of rad: current value is NaN",
    );
    expect(() => feedbackPhaseRoots(0, { feedbackParameter: -1 })).toThrow(
      "'feedbackParameter' must be a number that is not negative",
    );
    expect(() =>
      feedbackPhaseRoots(0, {
        feedbackParameter: 1,
        linewidthEnhancementFactor: NaN,
      })
    ).toThrow("'linewidthEnhancementFactor'");
  });
});

describe("feedbackPhase()", () => {
  it("follows the slow relaxation of the phase, integrated by SciPy", () => {
    for (const { c, alpha, phi0, phiF } of fixture.sweeps) {
      const { phase } = feedbackPhase(phi0, {
        feedbackParameter: c,
        linewidthEnhancementFactor: alpha,
      });
      phase.forEach((value, i) =>
        // Integration tolerance 1e-10 relative on phases up to 30 rad.
        expect(Math.abs(value - phiF[i]!)).toBeLessThan(1e-6)
      );
    }
  });

  it("solves the equation to rounding at any C", () => {
    const phase = Float64Array.from(
      { length: 4000 },
      (_, i) => 30 * Math.sin(i / 200),
    );
    for (const c of [0, 1e-9, 0.3, 0.999999, 1, 1.000001, 2, 4.6033, 9, 50]) {
      const options = { feedbackParameter: c, linewidthEnhancementFactor: 3 };
      const back = excessPhase(feedbackPhase(phase, options).phase, options);
      back.forEach((value, i) =>
        // A few units in the last place of a sum of up to 30 + 2C rad.
        expect(Math.abs(value - phase[i]!)).toBeLessThan(1e-13)
      );
    }
  });

  it("gives stable solutions only", () => {
    const phase = Float64Array.from({ length: 3000 }, (_, i) => i / 50);
    for (const c of [1.2, 3, 8]) {
      const solved = feedbackPhase(phase, { feedbackParameter: c });
      for (const value of solved.phase) {
        const margin = 1 + c * Math.cos(value + Math.atan(5));
        expect(margin).toBeGreaterThan(-1e-6);
      }
    }
  });

  it("gives the same numbers block by block as at once", () => {
    const phase = Float64Array.from(
      { length: 1000 },
      (_, i) => 25 * Math.sin(i / 70),
    );
    const options = { feedbackParameter: 3 };
    const whole = feedbackPhase(phase, options);
    let state = null;
    const parts: number[] = [];
    const jumps: number[] = [];
    for (let start = 0; start < 1000; start += 93) {
      const block = feedbackPhase(phase.subarray(start, start + 93), {
        ...options,
        state,
      });
      parts.push(...block.phase);
      jumps.push(...block.jumpIndices.map((i) => i + start));
      state = block.state;
    }
    expect(parts).toEqual([...whole.phase]);
    expect(jumps).toEqual([...whole.jumpIndices]);
    expect(state?.sampleCount).toBe(1000);
  });

  it("counts one branch per jump, also where a sample skips several", () => {
    const { jumpBranches } = feedbackPhase([0, 10 * turn, 0], {
      feedbackParameter: 2,
    });
    expect([...jumpBranches]).toEqual([10, -10]);
  });

  it("leaves a gap at a missing phase and goes on with its branch", () => {
    const { phase, jumpIndices } = feedbackPhase([0, NaN, 0.1], {
      feedbackParameter: 3,
    });
    expect(phase[1]).toBeNaN();
    expect(Math.abs(phase[2]! - phase[0]!)).toBeLessThan(0.2);
    expect(jumpIndices.length).toBe(0);
  });

  it("takes a C for each sample and insists on their number", () => {
    const single = feedbackPhase([1, 2, 3], { feedbackParameter: 2 });
    const each = feedbackPhase([1, 2, 3], { feedbackParameter: [2, 2, 2] });
    expect([...each.phase]).toEqual([...single.phase]);
    expect(() => feedbackPhase([1, 2], { feedbackParameter: [1] })).toThrow(
      "one value for each of the 2 samples: it has 1",
    );
    expect(() => feedbackPhase([1, 2], { feedbackParameter: [1, NaN] }))
      .toThrow("current value is NaN");
  });

  it("gives an empty trace for an empty trace", () => {
    expect(feedbackPhase([], { feedbackParameter: 2 }).phase.length).toBe(0);
  });
});
