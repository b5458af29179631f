import { describe, expect, it } from "vitest";
import { faultsOf } from "./faults.ts";

const half = 325e-9;
const course = (of: (t: number) => number) =>
  Float64Array.from({ length: 4000 }, (_, i) => half * of(i / 4000));
/** Two strokes of ten fringes. */
const way = course((t) => 10 * (1 - Math.abs(1 - 2 * t)));

describe("the faults of a displacement", () => {
  it("are none where it is off by less than half a fringe", () => {
    const found = faultsOf(
      way.map((x, i) => x + 0.3 * half * Math.sin(i / 50)),
      way,
      half,
      100,
    );
    expect(found.slips).toBe(0);
    expect(found.reversed).toBeLessThan(0.05);
  });

  it("count a fringe that is lost at the turning point once", () => {
    const lost = way.map((x, i) => i < 2000 ? x : x - half);
    expect(faultsOf(lost, way, half, 100)).toEqual({ slips: 1, reversed: 0 });
  });

  it("tell a stroke that is read backwards", () => {
    const back = course((t) => 20 * t);
    const found = faultsOf(back, way, half, 100);
    expect(found.reversed).toBeCloseTo(0.5, 1);
    // Twice ten fringes too many.
    expect(found.slips).toBeGreaterThan(17);
  });
});
