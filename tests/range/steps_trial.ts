import { measureSteps } from "fringebook";
import { studentQuantile } from "fringebook/fit";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { rampCapture, trueSteps } from "./bench.ts";
import { boundOfSteps, rms, robustRms, share } from "./statistics.ts";

interface Trial {
  readonly feedback: number;
  readonly steps: number;
  readonly ratio: number;
  readonly error: number;
  readonly uncertainty: number;
  readonly factor: number;
  readonly bound: number;
  readonly doubtful: boolean;
}

const count = 400;
const trials: Trial[] = [];
const refused: string[] = [];
const random = createRandom(20261125);

// C 0.1 to 4 and 1 to 60 steps, evenly in the logarithm; 15 to 40 dB; 20 to
// 400 mm; the ramp starts anywhere and does not match the sampling clock. The
// amplifier is a fifth of the sampling rate wide, as for a scope's anti-alias
// filter.
for (let k = 0; trials.length + refused.length < count; k++) {
  const feedback = 0.1 * 40 ** random.uniform();
  const ratio = 15 + 25 * random.uniform();
  const steps = 60 ** random.uniform();
  const distance = 0.02 * 20 ** random.uniform() + 325e-9 * random.uniform();
  const span = steps * 650e-9 ** 2 / (2 * distance * 8e-9);
  const middle = 0.04 + 0.01 * random.uniform();
  const [low, high] = [middle - span / 2, middle + span / 2];
  const frequency = 9.7 + 0.6 * random.uniform();
  const start = random.uniform();
  if (low < 0.026 || high > 0.09) continue;
  const capture = rampCapture({
    distance,
    low,
    high,
    frequency,
    start,
    feedbackParameter: feedback,
    signalToNoiseRatio: ratio,
    samplingRate: 10e3,
    duration: 0.22,
    seed: k + 1,
    bandwidth: 2e3,
    // Jumps come between the steps of the simulation: short ones where there are.
    oversampling: feedback > 1 ? 48 : 4,
  });
  const truth = trueSteps(distance, low, high);
  try {
    const result = measureSteps(capture);
    const used = result.diagnostics.strokes.filter(({ used }) => used);
    const samples = used.reduce((sum, s) => sum + s.end - s.start, 0);
    trials.push({
      feedback,
      steps: truth,
      ratio,
      // Per current, so that the place of the ramp's ends does not matter.
      error: result.stepsPerCurrent.value * (high - low) - truth,
      uncertainty: result.steps.standardUncertainty,
      factor: result.steps.degreesOfFreedom < 1e3
        ? studentQuantile(0.975, Math.max(1, result.steps.degreesOfFreedom))
        : 1.96,
      bound: boundOfSteps(samples, ratio, 0.96),
      doubtful: result.warnings.some(({ severity }) => severity === "doubtful"),
    });
  } catch (error) {
    refused.push(
      `C ${feedback.toFixed(2)}, ${truth.toFixed(2)} steps, ${
        ratio.toFixed(0)
      } dB: ${(error as Error).message}`,
    );
  }
}

const strata = [
  ["C < 1, 3 steps and more", (t: Trial) => t.feedback < 1 && t.steps >= 3],
  [
    "C < 1, 1.3 to 3 steps",
    (t: Trial) => t.feedback < 1 && t.steps >= 1.3 && t.steps < 3,
  ],
  ["C < 1, 1 to 1.3 steps", (t: Trial) => t.feedback < 1 && t.steps < 1.3],
  [
    "1 < C < 2.5, 3 steps and more",
    (t: Trial) => t.feedback >= 1 && t.feedback < 2.5 && t.steps >= 3,
  ],
  [
    "2.5 < C < 4, 3 steps and more",
    (t: Trial) => t.feedback >= 2.5 && t.steps >= 3,
  ],
  [
    "C > 1, 2 to 3 steps",
    (t: Trial) => t.feedback >= 1 && t.steps >= 2 && t.steps < 3,
  ],
  ["C > 1, 1 to 2 steps", (t: Trial) => t.feedback >= 1 && t.steps < 2],
] as const;

const of = (name: string) => {
  const chosen = trials.filter(strata.find(([n]) => n === name)![1]);
  return {
    chosen,
    bound: rms(chosen.map((t) => t.error / t.bound)),
    typical: robustRms(chosen.map((t) => t.error / t.bound)),
    inside: share(
      chosen,
      (t) => Math.abs(t.error) <= t.factor * t.uncertainty,
    ),
  };
};

describe("measureSteps() on 400 seeded captures", () => {
  it("prints what was found", () => {
    for (const [name] of strata) {
      const { chosen, bound, typical, inside } = of(name);
      console.log(
        `${name}: ${chosen.length} trials, error over bound ${
          bound.toFixed(2)
        } (typical ${typical.toFixed(2)}), relative rms ${
          rms(chosen.map((t) => t.error / t.steps)).toExponential(1)
        }, in 95 % interval ${(100 * inside).toFixed(1)} %, doubtful ${
          (100 * share(chosen, (t) => t.doubtful)).toFixed(0)
        } %`,
      );
    }
    console.log(`refused: ${refused.length}`, refused.slice(0, 5));
    const bad = trials.filter((t) =>
      Math.abs(t.error) > 5 * t.uncertainty && Math.abs(t.error) > 0.05 &&
      !t.doubtful
    );
    console.log(
      `wrong by more than 0.05 steps without a doubtful warning: ${bad.length}`,
      bad.slice(0, 8),
    );
  });

  it("rms error is below twice the bound where fringes do not jump", () => {
    expect(of("C < 1, 3 steps and more").bound).toBeLessThan(2);
  });

  it("is within 0.1 % at 10 steps and 30 dB and more", () => {
    const chosen = trials.filter((t) => t.steps >= 10 && t.ratio >= 30);
    const relative = chosen.map((t) => t.error / t.steps);
    console.log(
      `10 steps, 30 dB: ${chosen.length} trials, relative rms ${
        rms(relative).toExponential(2)
      }, largest ${Math.max(...relative.map(Math.abs)).toExponential(2)}`,
    );
    expect(rms(relative)).toBeLessThan(1e-3);
    expect(share(relative, (r) => Math.abs(r) < 1e-3)).toBeGreaterThan(0.99);
  });

  it("95 % intervals hold the truth in 93 to 97 % where fringes do not jump", () => {
    const { inside } = of("C < 1, 3 steps and more");
    expect(inside).toBeGreaterThan(0.93);
    expect(inside).toBeLessThan(0.975);
  });

  it("hold it in 87 % and more where they jump, on 3 or 4 strokes", () => {
    const jumping = [
      of("1 < C < 2.5, 3 steps and more"),
      of("2.5 < C < 4, 3 steps and more"),
    ];
    const [held, all] = jumping.reduce(
      ([a, b], { chosen, inside }) => [
        a + inside * chosen.length,
        b + chosen.length,
      ],
      [0, 0],
    );
    expect(held / all).toBeGreaterThan(0.87);
  });

  it("hardly ever refuses", () => {
    expect(refused.length).toBeLessThan(0.01 * count);
  });
});
