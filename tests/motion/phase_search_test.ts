import { feedbackPhase } from "fringebook/laser";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { detectFringes } from "../../lib/motion/detection.ts";
import { marginOverOthers } from "../../lib/motion/other_courses.ts";
import type { FringeParameters } from "../../lib/motion/phase_fit.ts";
import { searchPhase } from "../../lib/motion/phase_search.ts";
import { likeliestFringes } from "../../lib/motion/sought_reading.ts";

const alpha = 4;

/** A course of φ0 and what a diode makes of it. */
function sequence(course: readonly number[], c: number, noise: number) {
  const phase = Float64Array.from(course);
  const random = createRandom(3);
  const feedback = feedbackPhase(phase, {
    feedbackParameter: c,
    linewidthEnhancementFactor: alpha,
  });
  const shift = Math.atan(alpha);
  const parameters: FringeParameters = {
    p: c * Math.cos(shift),
    q: c * Math.sin(shift),
    middle: 2,
    amplitude: 0.1,
    height: null,
  };
  return {
    phase,
    jumps: feedback.jumpBranches,
    parameters,
    signal: feedback.phase.map((x) =>
      2 + 0.1 * (Math.cos(x) + noise * random.normal())
    ),
  };
}

/**
 * Fringes there and back, in rad: the shortest half fringe 20 samples, the speed
 * changing by less than the one cell per step that the search allows.
 */
function swings(count: number): number[] {
  return Array.from(
    { length: Math.round(1256 * count) },
    (_, i) => 10 * Math.PI * Math.sin(0.005 * i + 0.4),
  );
}

/** Fringes one way at 40 samples each, in rad. */
function oneWay(count: number): number[] {
  return Array.from({ length: 40 * count }, (_, i) => 0.9 + Math.PI / 20 * i);
}

/** Largest distance from the true course, less whole turns at the start. */
function farthestOff(found: Float64Array, phase: Float64Array): number {
  const middle = found.length >> 1;
  const start = 2 * Math.PI *
    Math.round((found[middle]! - phase[middle]!) / (2 * Math.PI));
  return Math.max(
    ...found.map((value, i) => Math.abs(value - start - phase[i]!)),
  );
}

describe("searchPhase(), the decoder of the fringes", () => {
  for (const c of [0.3, 0.9, 1.6, 3.2]) {
    it(`finds turning points and both ways of a swing at C = ${c}`, () => {
      const { phase, signal, parameters } = sequence(swings(2), c, 0.05);
      const found = searchPhase(signal, parameters, 0.05, 20)!;
      // A third of a fringe: never another fringe. Where the light is at the top of
      // a fringe, or on the flat side of a saw-tooth, samples tell that little.
      expect(farthestOff(found.phase, phase)).toBeLessThan(
        2 * Math.PI / 3,
      );
    });
  }

  it("labels as many jumps, of the same signs, as there are", () => {
    for (const c of [1.6, 3.2]) {
      const { jumps, signal, parameters } = sequence(swings(2), c, 0.02);
      const { labels } = searchPhase(signal, parameters, 0.02, 20)!;
      expect(labels.jumps.map(({ sign }) => sign)).toEqual([...jumps]);
    }
  });

  it("is led over samples that say nothing by what comes after", () => {
    const { phase, signal, parameters } = sequence(
      oneWay(10),
      0.5,
      0.05,
    );
    // Half a fringe is missing.
    signal.fill(NaN, 150, 170);
    const found = searchPhase(signal, parameters, 0.05, 20)!;
    expect(farthestOff(found.phase, phase)).toBeLessThan(2 * Math.PI * 0.2);
  });

  // cos is even: with ψ for −ψ the same signal is the same motion reversed.
  it("reads the mirrored fringe backwards, at the same cost", () => {
    for (const c of [0.4, 0.9]) {
      const { signal, parameters } = sequence(oneWay(25), c, 0.07);
      const right = searchPhase(signal, parameters, 0.07, 20)!;
      const mirrored = searchPhase(
        signal,
        { ...parameters, q: -parameters.q },
        0.07,
        20,
      )!;
      const way = (phase: Float64Array) => phase.at(-1)! - phase[0]!;
      // 25 fringes less the last sample; at a top a sample of this noise is sure of
      // the phase to half a radian at either end.
      expect(Math.abs(way(right.phase) - 50 * Math.PI)).toBeLessThan(1.2);
      expect(Math.abs(way(mirrored.phase) + 50 * Math.PI)).toBeLessThan(1.2);
      // The cells of the two grids do not mirror each other exactly.
      expect(Math.abs(mirrored.cost / right.cost - 1)).toBeLessThan(0.1);
    }
  });
});

describe("likeliestFringes(), the C of a record by its decoder", () => {
  it("takes the height of the fringes where it looks, not that at the start", () => {
    const count = 60_000;
    const { signal, parameters } = sequence(
      swings(Math.ceil(count / 1256)).slice(0, count),
      0.6,
      0.05,
    );
    // It grows to four times what it was at the start.
    const values = signal.map((_, i) => 0.4 + 1.2 * i / count);
    const faded = signal.map((y, i) => 2 + (y - 2) * values[i]!);
    const height = { values, spacing: count / 4, size: 7 };
    const detection = { ...detectFringes(signal)!, height };
    const known = { ...parameters, height };
    // No other C is as likely as the true one.
    expect(likeliestFringes(faded, detection, known)).toEqual([]);
  });
});

describe("marginOverOthers(), what vouches for a course", () => {
  const noise = 0.1;
  for (const c of [0.3, 0.9, 1.6, 3.2]) {
    it(`is for the true course, and against one with a stroke reversed, at C = ${c}`, () => {
      const { phase, signal, parameters } = sequence(swings(4), c, noise);
      const margin = (course: Float64Array) =>
        marginOverOthers(signal, course, parameters, 0.1 * noise, 20);
      // cos(0.005 i + 0.4) turns at every 628 samples from 234 on.
      const [from, to] = [234 + 628, 234 + 2 * 628];
      const start = phase[from]!;
      const way = 2 * (phase[to]! - start);
      const reversed = phase.map((value, i) =>
        i < from ? value : i < to ? 2 * start - value : value - way
      );
      expect(margin(phase)).toBeGreaterThan(3);
      expect(margin(reversed)).toBeLessThan(-3);
    });
  }
});
