import { describe, expect, it } from "vitest";
import { gridBench, judge } from "./grid_bench.ts";

describe("a rule of thumb of the displacement that takes long", () => {
  it("earns its place on bench 40 of the grid: fringes are evened out to one height", () => {
    // Off: 0.19 of a fringe, with a warning. As in rules_test.ts.
    expect(judge(gridBench(40)).outcome).toBe("right");
  });
});
