import { describe, expect, it } from "vitest";
import { followBranch, solveOnBranch } from "../../lib/range/branch_table.ts";
import { reachOf } from "../../lib/range/feedback_course.ts";

describe("the table of a branch", () => {
  it("gives the solutions of t = z + C sin z from end to end", () => {
    for (const c of [0, 0.3, 0.95, 1, 1.01, 1.5, 4, 6]) {
      const reach = reachOf(c);
      const t = Float64Array.from(
        { length: 20_001 },
        (_, i) => 0.9999999 * reach * (i / 10_000 - 1),
      );
      const { angle: z, cosine, sine } = followBranch(t, c, reach);
      const solved = solveOnBranch(t, c);
      const apart = z.map((value, i) => Math.abs(value - solved[i]!));
      // A hundred-thousandth of the noise of a good capture.
      expect(Math.max(...apart)).toBeLessThan(1e-7);
      // The equation itself, away from the solver.
      const left = z.map((value, i) => value + c * Math.sin(value) - t[i]!);
      expect(Math.max(...left.map(Math.abs))).toBeLessThan(1e-6);
      const turned = z.map((value, i) =>
        Math.hypot(cosine[i]! - Math.cos(value), sine[i]! - Math.sin(value))
      );
      expect(Math.max(...turned)).toBeLessThan(1e-9);
    }
  });
});
