import { describe, expect, it } from "vitest";
import { countRamp } from "../../lib/range/count_ramp.ts";
import { createHopScores, showsHop } from "../../lib/range/hop_scan.ts";
import { createLagCourse, lagScores } from "../../lib/range/lag_score.ts";
import { fittedInPairs } from "../../lib/range/residual_scan.ts";
import { rampCapture, trueTurns } from "./bench.ts";

const bench = {
  distance: 0.2,
  low: 0.036,
  high: 0.044,
  feedbackParameter: 0.5,
  signalToNoiseRatio: 30,
  duration: 0.3,
} as const;

describe("the score test for a mode hop", () => {
  it("finds a step of the phase where it was planted, and its sign", () => {
    const hop = { current: 0.0405, wavelengthStep: 0.15e-9, hysteresis: 0 };
    const capture = rampCapture({ ...bench, diode: { modeHop: hop } });
    const count = countRamp(capture, {});
    const scores = createHopScores(count, []);
    const found = scores.strongest()!;
    expect(found).not.toBeNull();
    const place = 2 * (hop.current - count.low) / count.span - 1;
    // A tenth of the ramp: the places tried are some 1/24 of it apart.
    expect(Math.abs(found.up! - place)).toBeLessThan(0.2);
    expect(Math.abs(found.down! - place)).toBeLessThan(0.2);
    const score = scores.at(found)!;
    // A longer wavelength is a higher current. Of first order: its size is not
    // that of the hop, which a fit finds.
    expect(Math.sign(score.shift)).toBe(
      Math.sign(trueTurns(bench.distance, hop)),
    );
  });

  it("finds none in ten captures without", () => {
    for (let seed = 1; seed <= 10; seed++) {
      expect(showsHop(countRamp(rampCapture({ ...bench, seed }), {}), []))
        .toBe(false);
    }
  });
});

describe("the score test for a thermal lag", () => {
  const scoreOf = (seed: number) => {
    const capture = rampCapture({
      ...bench,
      seed,
    });
    const count = countRamp(capture, {});
    return lagScores(
      count,
      createLagCourse(capture, {}),
      0,
      [0.2e-3],
      fittedInPairs(count),
    )[0]!;
  };

  it("asks for none within its deviation where there is none", () => {
    const significances = Array.from(
      { length: 12 },
      (_, k) => scoreOf(100 + k).significance,
    );
    // Of 12 standard normal numbers one beyond 3.5 comes once in 180 runs.
    expect(Math.max(...significances.map(Math.abs))).toBeLessThan(3.5);
  });
});
