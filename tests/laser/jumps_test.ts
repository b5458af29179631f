import { describe, expect, it } from "vitest";
import {
  expectedJumps,
  feedbackPhase,
  feedbackRegime,
  feedbackThresholds,
  fringeTiming,
  hysteresisWidth,
  jumpPhases,
} from "fringebook/laser";

const turn = 2 * Math.PI;

describe("feedbackThresholds()", () => {
  it("gives C = 1, 4.603339, 7.789706, 10.949880", () => {
    // C_k = 1/cos x, tan x = x + kπ, solved independently to six decimals;
    // 4.6 as the edge of moderate feedback: Taimre et al. 2015 and others.
    const expected = [1, 4.603339, 7.789706, 10.949880];
    feedbackThresholds(4).forEach((c, k) =>
      expect(Math.abs(c - expected[k]!)).toBeLessThan(6e-7)
    );
  });

  it("solves tan x = x + kπ with C = 1/cos x", () => {
    feedbackThresholds(12).forEach((c, k) => {
      const x = Math.acos(1 / c);
      // Conditioning of acos and tan near π/2.
      expect(Math.abs(Math.tan(x) - x - k * Math.PI)).toBeLessThan(1e-11);
    });
  });

  it("refuses a count that is not a whole number above 0", () => {
    expect(() => feedbackThresholds(0)).toThrow("'count'");
  });
});

describe("hysteresisWidth()", () => {
  it("gives the widths worked out by hand, in fringes", () => {
    // W = 2 [sqrt(C² - 1) - arccos(1/C)], four decimals.
    const expected: [number, number][] = [
      [1.5, 0.0882],
      [2, 0.2180],
      [3, 0.5085],
      [4, 0.8132],
      [4.6033, 1],
      [5, 1.1235],
      [6, 1.4364],
      [8, 2.0664],
    ];
    for (const [c, width] of expected) {
      expect(Math.abs(hysteresisWidth(c) / turn - width)).toBeLessThan(6e-5);
    }
    expect(hysteresisWidth(0.8)).toBe(0);
  });
});

describe("jumpPhases()", () => {
  it("gives the phases at which a slow sweep jumps", () => {
    const step = 1e-4;
    for (const c of [1.3, 2.5, 4, 7]) {
      const options = { feedbackParameter: c, linewidthEnhancementFactor: 3 };
      const up = Float64Array.from({ length: 2e5 }, (_, i) => i * step);
      const both = Float64Array.from([...up, ...up.toReversed()]);
      const { jumpIndices, jumpBranches } = feedbackPhase(both, options);
      const { rising, falling } = jumpPhases(options);
      jumpIndices.forEach((index, k) => {
        const expected = jumpBranches[k]! > 0 ? rising : falling;
        const turns = (both[index]! - expected) / turn;
        // The first sample after the fold: at most one step late.
        expect(Math.abs(turns - Math.round(turns)) * turn)
          .toBeLessThan(step * 1.001);
      });
      expect(jumpIndices.length).toBeGreaterThan(3);
    }
  });

  it("refuses feedback without jumps", () => {
    expect(() => jumpPhases({ feedbackParameter: 1 })).toThrow("above 1");
  });
});

describe("expectedJumps()", () => {
  it("bounds the jumps of a 2 µm sine at 650 nm, fringe loss included", () => {
    const excursion = 2 * turn * 4e-6 / 650e-9;
    // 12.3077 fringes in a stroke.
    expect(Math.abs(excursion / turn - 12.3077)).toBeLessThan(1e-4);
    for (const c of [1.5, 2, 3, 4, 5, 6, 8]) {
      const { least, most } = expectedJumps(excursion, c);
      const seen = new Set<number>();
      for (let start = 0; start < 24; start++) {
        const phase = Float64Array.from(
          { length: 8000 },
          (_, i) =>
            start * turn / 24 + excursion / 2 * Math.sin(turn * i / 4000),
        );
        const { jumpIndices, jumpBranches } = feedbackPhase(phase, {
          feedbackParameter: c,
        });
        let rising = 0;
        jumpIndices.forEach((index, k) => {
          if (index > 3000 && index < 5000) rising += jumpBranches[k]!;
        });
        seen.add(rising);
      }
      expect([...seen].sort((a, b) => a - b)).toEqual([least, most]);
    }
  });

  it("loses every fringe of a stroke narrower than the hysteresis", () => {
    expect(expectedJumps(turn, 8)).toEqual({ least: 0, most: 0 });
  });
});

describe("feedbackRegime()", () => {
  it("names the regimes by their borders", () => {
    // Giuliani, Norgia, Donati, Bosch 2002: 0.1, 1, 4.6.
    expect([0.05, 0.1, 1, 1.01, 4.6, 4.61].map(feedbackRegime)).toEqual([
      "very weak",
      "weak",
      "weak",
      "moderate",
      "moderate",
      "strong",
    ]);
  });
});

describe("fringeTiming()", () => {
  // φ12/2π and φ34/2π by the formulae of Yu, Giuliani, Donati 2004, worked out
  // independently to six decimals.
  const expected: [number, number, number, number][] = [
    [1.5, 3, 0.670782, 0.417378],
    [1.5, 5, 0.622316, 0.465845],
    [2, 3, 0.760864, 0.457131],
    [2, 5, 0.702840, 0.515156],
    [2.5, 3, 0.857196, 0.503134],
    [2.5, 5, 0.789613, 0.570716],
    [3, 4, 0.909037, 0.599453],
    [3, 5, 0.879300, 0.629190],
  ];

  it("gives the tabulated parts of a fringe, whose sum depends on C only", () => {
    for (const [c, alpha, rising, falling] of expected) {
      const timing = fringeTiming({
        feedbackParameter: c,
        linewidthEnhancementFactor: alpha,
      });
      expect(Math.abs(timing.rising - rising)).toBeLessThan(6e-7);
      expect(Math.abs(timing.falling - falling)).toBeLessThan(6e-7);
    }
    const sums: [number, number][] = [
      [1.5, 1.088161],
      [2, 1.217996],
      [2.5, 1.360329],
      [3, 1.508490],
    ];
    for (const [feedbackParameter, sum] of sums) {
      expect(Math.abs(fringeTiming({ feedbackParameter }).sum - sum))
        .toBeLessThan(6e-7);
    }
  });

  it("is what the simulated waveform shows", () => {
    const options = { feedbackParameter: 2, linewidthEnhancementFactor: 3 };
    const step = 1e-4;
    const up = Float64Array.from({ length: 3e5 }, (_, i) => i * step);
    for (const [sign, part] of [[1, "rising"], [-1, "falling"]] as const) {
      const phase = up.map((value) => sign * value);
      const solved = feedbackPhase(phase, options);
      const jump = solved.jumpIndices.at(-1)!;
      // Rising: cos φF crosses zero upwards before the jump; falling: downwards.
      let crossing = jump - 1;
      const signal = solved.phase.map(Math.cos);
      while (
        !(sign * signal[crossing - 1]! < 0 && sign * signal[crossing]! >= 0)
      ) crossing--;
      const turns = (jump - crossing) * step / turn;
      // Two samples of reading.
      expect(Math.abs(turns - fringeTiming(options)[part]))
        .toBeLessThan(2 * step / turn);
    }
  });
});
