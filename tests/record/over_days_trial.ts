import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { chartSignals } from "../../lib/record/chart_rules.ts";

describe("the rules of a control chart, over 40 000 charts in control", () => {
  it("give a false alarm after 91.75 points on average", () => {
    // Champ and Woodall 1987, Technometrics 29, 393 (from memory): average run
    // length of the four rules together; 370.4 of the first alone.
    const random = createRandom(9);
    const runs = 40_000;
    let all = 0;
    let squares = 0;
    let alone = 0;
    for (let run = 0; run < runs; run++) {
      const values: number[] = [];
      let length = Infinity;
      while (length === Infinity) {
        for (let k = 0; k < 200; k++) values.push(random.normal());
        length = Math.min(
          ...chartSignals(values, 0, 1).map(({ index }) => index + 1),
        );
        // A rule tells once: from the start again with more points.
      }
      all += length;
      squares += length * length;
    }
    const draws = 2e6;
    for (let k = 0; k < draws; k++) {
      if (chartSignals([random.normal()], 0, 1).length > 0) alone++;
    }
    const mean = all / runs;
    const u = Math.sqrt((squares / runs - mean * mean) / runs);
    console.log(`run length ${mean.toFixed(2)} ± ${u.toFixed(2)}`);
    expect(Math.abs(mean - 91.75)).toBeLessThan(4 * u);
    // Poisson: 5400 ± 73 of two million.
    expect(Math.abs(draws / alone - 370.4)).toBeLessThan(4 * 370.4 / 73);
  });
});
