import { describe, expect, it } from "vitest";
import {
  createCapture,
  measureSteps,
  measureStepsStream,
  streamOfCapture,
} from "fringebook";
import { rampCapture, trueSteps } from "./bench.ts";
import { high, longBench as bench, low, perRamp, truth } from "./long_bench.ts";

describe("measureSteps() of many strokes", () => {
  it("counts each stroke as a short capture of it is counted", () => {
    const capture = rampCapture(bench);
    const whole = measureSteps(capture);
    expect(whole.diagnostics.strokes.length).toBeGreaterThan(70);
    // The last 30 strokes by themselves, all searched.
    const from = whole.diagnostics.strokes.at(-31)!.end;
    const part = measureSteps(createCapture(
      capture.channels.map((channel) => ({
        ...channel,
        samples: channel.samples.subarray(from),
      })),
      { samplingRate: bench.samplingRate },
    ));
    const counted = part.diagnostics.strokes;
    expect(counted.length).toBe(30);
    for (const stroke of counted) {
      const same = whole.diagnostics.strokes.find(({ start }) =>
        Math.abs(start - from - stroke.start) < 3
      )!;
      // C is free in the one and held in the other: far below the noise.
      expect(Math.abs(same.steps - stroke.steps))
        .toBeLessThan(0.2 * stroke.standardUncertainty);
      // One takes the noise of 245 samples from their rms, the other from their
      // median size, which scatters by 7 %.
      const ratio = same.standardUncertainty / stroke.standardUncertainty;
      expect(Math.abs(ratio - 1)).toBeLessThan(0.28);
    }
  });

  it("searches all strokes where the later ones are not like the first", () => {
    const { diagnostics: { strokes }, steps, warnings } = measureSteps(
      rampCapture({ ...bench, distance: (time) => time < 1 ? 0.1 : 0.12 }),
    );
    const first = trueSteps(0.1, low, high);
    const later = trueSteps(0.12, low, high);
    for (const { start, end, steps, standardUncertainty } of strokes) {
      // The stroke during which it is moved has no count of its own.
      if (start < 10e3 && end > 10e3) continue;
      expect(Math.abs(steps - (start < 10e3 ? first : later)))
        .toBeLessThan(5 * standardUncertainty);
    }
    // The mean is neither, and says so.
    expect(warnings.find(({ code }) => code === "steps-change")?.severity)
      .toBe("doubtful");
    expect(2 * steps.standardUncertainty).toBeGreaterThan((later - first) / 2);
  });

  it("notes a target in steady motion, and nothing of one at rest", () => {
    const count = (speed: number, seed: number) =>
      measureSteps(rampCapture({
        ...bench,
        duration: 1,
        seed,
        distance: speed === 0 ? 0.1 : (time) => 0.1 + speed * time,
      }));
    const moving = count(1e-4, 1);
    expect(moving.warnings.map(({ code, severity }) => [code, severity]))
      .toEqual([["steps-change", "note"]]);
    expect(Math.abs(moving.steps.value - trueSteps(0.1 + 1e-4 / 2, low, high)))
      .toBeLessThan(4 * moving.steps.standardUncertainty);
    for (let seed = 1; seed <= 8; seed++) {
      expect(count(0, seed).warnings).toEqual([]);
    }
  });

  it("leaves out a late stroke that was knocked", () => {
    const capture = rampCapture(bench);
    const [monitor, drive] = capture.channels;
    const { strokes } = measureSteps(capture).diagnostics;
    const knocked = strokes[60]!;
    const middle = (knocked.start + knocked.end) / 2;
    const samples = monitor!.samples.map((value, i) =>
      Math.abs(i - middle) < 60 ? value + 0.3 * Math.sin(i / 3) : value
    );
    const result = measureSteps(createCapture(
      [{ ...monitor!, samples }, drive!],
      { samplingRate: bench.samplingRate },
    ));
    expect(result.diagnostics.strokes[60]!.used).toBe(false);
    expect(result.diagnostics.strokes.filter(({ used }) => !used).length)
      .toBe(1);
    const { value, standardUncertainty } = perRamp(result);
    expect(Math.abs(value - truth)).toBeLessThan(4 * standardUncertainty);
  });

  it("says how the ways of counting compare on the strokes that have them all", () => {
    const { estimators, steps } = measureSteps(rampCapture(bench));
    for (const { name, steps: own } of estimators) {
      if (name === "step edges") continue;
      expect(Math.abs(own.value - steps.value)).toBeLessThan(0.05);
    }
  });

  it("counts a record in parts as in memory, with the first part's search", async () => {
    const capture = rampCapture(bench);
    const whole = measureSteps(capture);
    const parts = await measureStepsStream(streamOfCapture(capture));
    expect(Math.abs(parts.steps.value - whole.steps.value))
      .toBeLessThan(whole.steps.standardUncertainty);
    expect(parts.diagnostics.strokes.length)
      .toBe(whole.diagnostics.strokes.length);
  });
});
