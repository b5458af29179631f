import { calibrateLevel, calibratePresence, measureLevel } from "fringebook";
import { normalProbability } from "fringebook/fit";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { lensLevel, levelCapture } from "./bench.ts";

describe("the threshold of presence, over 4000 calibrations", () => {
  for (const count of [10, 100]) {
    it(`makes false alarms at the wanted rate on average, from ${count} averages`, () => {
      const wanted = 0.01;
      const rates = Array.from({ length: 4000 }, (_, seed) => {
        const calibration = calibratePresence(
          levelCapture(2e-4, { seed, samples: count }),
          { averagingTime: 1e-4, falseAlarmInterval: 1e-4 / wanted },
        );
        // The noise of an average is known here: 2 µA about 200 µA.
        return 1 - normalProbability((calibration.threshold - 2e-4) / 2e-6);
      });
      const mean = rates.reduce((sum, each) => sum + each, 0) / rates.length;
      const deviation = Math.sqrt(
        rates.reduce((sum, each) => sum + (each - mean) ** 2, 0) /
          rates.length ** 2,
      );
      console.log(`${count} averages: ${mean.toFixed(5)} ± ${deviation}`);
      expect(Math.abs(mean - wanted)).toBeLessThan(4 * deviation);
    });
  }
});

describe("a distance by the level, over 1500 benches", () => {
  it("lies in its 95 % interval in 93 % to 99 %, and hardly ever far out", () => {
    const random = createRandom(77);
    const millimetres = [18, 20, 22, 25, 28, 32, 36, 41, 47, 54, 62];
    const ratios: number[] = [];
    let undetermined = 0;
    for (let bench = 0; bench < 1500; bench++) {
      const fringe = [0, 3e-7, 1e-6][bench % 3]!;
      const uDistance = [0, 5e-5, 2e-4][Math.floor(bench / 3) % 3]!;
      const calibration = calibrateLevel(millimetres.map((each, k) => ({
        distance: each / 1000,
        standardUncertainty: uDistance,
        capture: levelCapture(
          lensLevel(each / 1000 + uDistance * random.normal()),
          { seed: 100 * bench + k, fringe, samples: 256 },
        ),
      })));
      const distance = 0.022 + 0.032 * random.uniform();
      const found = measureLevel(
        levelCapture(lensLevel(distance), {
          seed: 100 * bench + 50,
          fringe,
          samples: 256,
        }),
        { calibration, within: { low: 0.018, high: 1 } },
      ).distance;
      if (found === null) undetermined++;
      else {
        ratios.push(
          Math.abs(found.value - distance) / found.standardUncertainty,
        );
      }
    }
    const part = (limit: number) =>
      ratios.filter((ratio) => ratio < limit).length / ratios.length;
    console.log(
      `within 2 u: ${part(2)}, within 4 u: ${
        part(4)
      }, not determined: ${undetermined}`,
    );
    // The fringe is not normal: an arcsine is shorter than 2 of its deviations,
    // and what the curve may miss between points is taken on the safe side.
    expect(part(2)).toBeGreaterThan(0.93);
    expect(part(2)).toBeLessThan(0.99);
    expect(part(4)).toBeGreaterThan(0.997);
    expect(undetermined).toBeLessThan(30);
  });
});
