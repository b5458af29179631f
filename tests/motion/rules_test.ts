import { describe, expect, it } from "vitest";
import { gridBench, judge } from "./grid_bench.ts";

// Rules of thumb of the estimator, each with a bench of the grid that it is right
// on and that comes out wrong once the rule is switched off. A rule that goes must
// leave its bench right by other means.
const rules = [
  // Off: 0.33 of a fringe, without a warning.
  { bench: 27, rule: "a place that does not fit is read anew (mend)" },
  // Off: 0.07 of a fringe, without a warning.
  { bench: 102, rule: "turns are read the other way where that leaves less" },
  // Off: 6.6 fringes, with a warning.
  { bench: 191, rule: "the whole record is decoded, fitted, decoded again" },
  // Off: 3.7 times the bound, 2.2 s of CPU instead of 0.1 s.
  { bench: 150, rule: "both ends are left out at first, and settled at last" },
  // Off: 0.18 of a fringe, with a warning.
  { bench: 68, rule: "the height of the fringes is fitted where it changes" },
  // Off: 0.03 of a fringe, 23 times the bound; bench 87 by 37 fringes.
  { bench: 117, rule: "a long record is read like a part of it" },
] as const;

describe("a rule of thumb of the displacement", () => {
  for (const { bench, rule } of rules) {
    it(`earns its place on bench ${bench} of the grid: ${rule}`, () => {
      const { outcome, ratio } = judge(gridBench(bench));
      expect(outcome).toBe("right");
      // At most twice the bound is right.
      expect(ratio).toBeLessThan(2);
    });
  }
});
