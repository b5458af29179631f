import { describe, expect, it } from "vitest";
import { solveOnBranch } from "../../lib/range/branch_table.ts";
import { turnTo } from "../../lib/range/turn_table.ts";

describe("the table of a turn", () => {
  it("gives cos z and sin z of t = z + C sin z, any turns from 0", () => {
    const near = Float64Array.from(
      { length: 20_001 },
      (_, i) => Math.PI * (i / 10_000 - 1),
    );
    for (const c of [0, 0.3, 0.6, 0.9]) {
      const solved = solveOnBranch(near, c);
      for (const turns of [0, -3, 40_000]) {
        const t = near.map((value) => value + 2 * Math.PI * turns);
        const [cosine, sine] = [t.slice(), t.slice()];
        turnTo(t, c, cosine, sine);
        const apart = solved.map((z, i) =>
          Math.hypot(cosine[i]! - Math.cos(z), sine[i]! - Math.sin(z))
        );
        // A ten-thousandth of the noise of a good capture.
        expect(Math.max(...apart)).toBeLessThan(1e-8);
      }
    }
  });
});
