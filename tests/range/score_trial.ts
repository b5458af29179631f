import { describe, expect, it } from "vitest";
import { countRamp } from "../../lib/range/count_ramp.ts";
import { createHopScores, showsHop } from "../../lib/range/hop_scan.ts";
import { createLagCourse, lagScores } from "../../lib/range/lag_score.ts";
import { fittedInPairs } from "../../lib/range/residual_scan.ts";
import { stepsOf } from "../../lib/range/stroke_selection.ts";
import { rampCapture, trueTurns } from "./bench.ts";

const bench = {
  distance: 0.2,
  low: 0.036,
  high: 0.044,
  feedbackParameter: 0.5,
  signalToNoiseRatio: 30,
  duration: 0.3,
} as const;

/** Nine steps, little noise. */
const few = {
  ...bench,
  low: 0.0394,
  high: 0.0406,
  signalToNoiseRatio: 40,
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

  it("says the size of a step too small to change the fits", () => {
    // Half a percent of a turn on nine steps. From a hundredth on the fits take
    // part of the step for a bend of the tuning, and the score is of what is left.
    const hop = { current: 0.0402, wavelengthStep: 5e-15, hysteresis: 0 };
    const off = Array.from({ length: 8 }, (_, k) => {
      const capture = rampCapture({
        ...few,
        seed: k + 1,
        diode: { modeHop: hop },
      });
      const count = countRamp(capture, {});
      const place = 2 * (hop.current - count.low) / count.span - 1;
      const { shift, deviation } = createHopScores(count, [])
        .at({ up: place, down: place, shift: 0 })!;
      const shifted = 2 * trueTurns(few.distance, hop) / stepsOf(count);
      return (shift - shifted) / deviation;
    });
    const mean = off.reduce((sum, z) => sum + z, 0) / off.length;
    // Of eight standard normal numbers the mean is beyond 3 / sqrt 8 once in 370.
    expect(Math.abs(mean)).toBeLessThan(3 / Math.sqrt(8));
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

  it("asks for a lag of the size that was planted", () => {
    const planted = 0.4e-3;
    const changes = Array.from({ length: 4 }, (_, k) => {
      const capture = rampCapture({
        ...few,
        seed: k + 1,
        diode: { thermalTimeConstant: planted, thermalFraction: 1 },
      });
      const count = countRamp(capture, {});
      return lagScores(
        count,
        createLagCourse(capture, {}),
        0,
        [planted],
        fittedInPairs(count),
      )[0]!.change;
    });
    const mean = changes.reduce((sum, t) => sum + t, 0) / changes.length;
    // Of first order, and each stroke's own bend takes some of it: to a quarter.
    expect(Math.abs(mean / planted - 1)).toBeLessThan(0.25);
  });
});
