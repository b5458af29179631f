import { describe, expect, it } from "vitest";
import { createBenches } from "./joint_bench.ts";
import { inside, measureJoint } from "./joint_records.ts";

/** A bench of the joint trial, by its number from 1. */
function jointBench(number: number) {
  const next = createBenches(20261125);
  for (let k = 1; k < number; k++) next();
  return next();
}

describe("a rule of thumb of the count", () => {
  it("earns its place on bench 71 of the joint trial: hops on few steps are guessed by trying", () => {
    // Off: 0.41 steps, doubtful; bench 76 likewise by 0.37.
    const found = measureJoint(jointBench(71));
    if (!("error" in found)) throw new Error(found.reason);
    expect(Math.abs(found.error)).toBeLessThan(0.01);
    expect(inside(found)).toBe(true);
    expect(found.doubtful).toBe(false);
  });

  it("earns its place on bench 133 of the joint trial: lag and hop are looked for together", () => {
    // Off: 0.05 steps, 11 times the bound, and doubtful.
    const found = measureJoint(jointBench(133));
    if (!("error" in found)) throw new Error(found.reason);
    expect(Math.abs(found.error)).toBeLessThan(0.01);
    expect(inside(found)).toBe(true);
    expect(found.doubtful).toBe(false);
  });
});
