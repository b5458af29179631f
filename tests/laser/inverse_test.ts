import { feedbackPhase } from "fringebook/laser";
import { describe, expect, it } from "vitest";
import { fringeModel } from "../../lib/motion/fringe_model.ts";
import { bisectedPhase } from "./bisected_phase.ts";

// Stable roots found by another solver, residual below 1e-13 (own calculation from
// φ0 = φF + C sin(φF + arctan α), Lang & Kobayashi 1980): C, α, φ0, φF.
const roots = [
  [0.1, 5, 0, -0.0957344160],
  [0.1, 5, 6, 5.9155431590],
  [0.5, 5, 1, 0.5268983238],
  [0.5, 5, 4, 4.2903055298],
  [0.9, 3, 2, 2.5499741456],
  [0.9, 3, 5, 5.0161709006],
  [2, 5, 1, -0.5143915431],
  [2, 5, 2, 0.0284685417],
  [3, 4, 2, -0.3990500244],
  [3, 4, 3, 0.0543462145],
] as const;

describe("the inverse of the excess-phase equation", () => {
  it("by bisection in these tests meets the table of another solver", () => {
    for (const [c, alpha, phase, root] of roots) {
      const shift = Math.atan(alpha);
      const branch = Math.round((root + shift) / (2 * Math.PI));
      // The table has ten decimals.
      expect(bisectedPhase(phase, c, shift, branch)).toBeCloseTo(root, 9);
    }
  });

  it("feedbackPhase() follows the branch to the bisected root up to its end", () => {
    for (const c of [0.05, 0.5, 0.99, 1, 1.5, 3, 6]) {
      const alpha = 4.3;
      const shift = Math.atan(alpha);
      const reach = c > 1 ? Math.acos(-1 / c) + Math.sqrt(c * c - 1) : Math.PI;
      // From the middle of the branch nearly to its upper end.
      const phase = Float64Array.from(
        { length: 500 },
        (_, i) => 0.999 * reach * i / 500 - shift,
      );
      const found = feedbackPhase(phase, {
        feedbackParameter: c,
        linewidthEnhancementFactor: alpha,
      }).phase;
      const apart = found.map((value, i) =>
        Math.abs(value - bisectedPhase(phase[i]!, c, shift))
      );
      expect(Math.max(...apart)).toBeLessThan(1e-9);
    }
  });

  it("fringeModel()'s table holds cos φF, sin φF and the slope of the bisected root", () => {
    for (const c of [0.1, 0.6, 0.95, 1.4, 3, 4.5]) {
      const shift = Math.atan(3.1);
      const model = fringeModel(
        c * Math.cos(shift),
        c * Math.sin(shift),
        0.02,
      );
      for (let i = 1; i < 200; i++) {
        // Not into the fold itself, where the slope has no bound.
        const t = 0.98 * model.reach * (i / 100 - 1);
        const j = model.entryOf[
          Math.floor((t + model.reach) * model.perRadian)
        ]!;
        const phase = model.phase[j]!;
        // The entry is within a cell of where it is looked for: 2048 in φF, up to
        // 1.5 times as wide in the middle, and 1 + C times that in φ0 …
        expect(Math.abs(phase - (t - shift))).toBeLessThan(
          3 * Math.PI * (1 + c) / 2048,
        );
        // … and exact at its own phase.
        const root = bisectedPhase(phase, c, shift);
        expect(Math.abs(model.signal[j]! - Math.cos(root))).toBeLessThan(1e-9);
        expect(Math.abs(model.sine[j]! - Math.sin(root))).toBeLessThan(1e-9);
        const h = 1e-6;
        const slope = (Math.cos(bisectedPhase(phase + h, c, shift)) -
          Math.cos(bisectedPhase(phase - h, c, shift))) / (2 * h);
        // h² times the third derivative, which grows towards the fold.
        expect(Math.abs(model.slope[j]! - slope)).toBeLessThan(
          1e-4 * (1 + slope ** 2),
        );
      }
    }
  });
});
