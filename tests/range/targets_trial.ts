import { findTargets } from "fringebook/range";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { targetsCapture, tuning, wavelength } from "./two_targets.ts";

describe("two targets on one ramp, over 30 benches", () => {
  it("are both found within their uncertainty, or named, and one stays one", () => {
    const random = createRandom(31);
    let [found, named, alone, within, distances] = [0, 0, 0, 0, 0];
    for (let bench = 0; bench < 30; bench++) {
      const near = 0.06 + 0.1 * random.uniform();
      const far = near + 0.02 + 0.2 * random.uniform();
      const second = bench % 3 !== 0;
      const result = findTargets(
        targetsCapture({
          distances: second ? [near, far] : [near],
          feedback: [
            0.1 + 0.3 * random.uniform(),
            0.1 + 0.3 * random.uniform(),
          ].slice(0, second ? 2 : 1),
          decibels: 20 + 15 * random.uniform(),
          bend: 0.03 * random.normal(),
          growth: random.uniform(),
          seed: bench,
        }),
        { tuning: { tuning, wavelength } },
      );
      if (!second) {
        if (result.verdict === "one target") alone++;
      } else if (result.verdict === "two targets") {
        found++;
        [near, far].forEach((truth, k) => {
          const { value, expandedUncertainty } = result.targets[k]!.distance!;
          distances++;
          if (Math.abs(value - truth) <= expandedUncertainty) within++;
        });
      } else if (result.verdict !== "one target") named++;
    }
    console.log(
      `alone ${alone}/10, both ${found}/20, named ${named}, within U ${within}/${distances}`,
    );
    expect(alone).toBeGreaterThanOrEqual(9);
    expect(found + named).toBeGreaterThanOrEqual(19);
    expect(within / distances).toBeGreaterThan(0.9);
  });
});
