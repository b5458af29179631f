import { describe, expect, it } from "vitest";
import {
  measureDistance,
  measureSteps,
  measureStepsStream,
  streamOfCapture,
} from "fringebook";
import type { StreamState } from "fringebook/capture";
import type { StepsStreamState } from "fringebook/range";
import {
  rampCapture,
  refractiveIndex,
  trueSteps,
  tuning,
  wavelength,
} from "./bench.ts";

const bench = {
  distance: 0.25,
  frequency: 19.3,
  samplingRate: 20e3,
  duration: 0.5,
} as const;
const capture = rampCapture(bench);
const settings = { blockLength: 900, periodsPerPart: 3 };
const long = await measureStepsStream(streamOfCapture(capture), settings);

describe("measureStepsStream", () => {
  it("counts what the whole capture in memory counts", () => {
    const whole = measureSteps(capture);
    // Strokes are cut a little otherwise at the seams of the parts.
    const room = 3 * whole.steps.standardUncertainty;
    expect(Math.abs(long.steps.value - whole.steps.value)).toBeLessThan(room);
    expect(
      Math.abs(long.stepsPerCurrent.value / whole.stepsPerCurrent.value - 1),
    ).toBeLessThan(room / whole.steps.value);
    expect(long.steps.standardUncertainty / whole.steps.standardUncertainty)
      .toBeCloseTo(1, 0.5);
    // No stroke is counted twice or lost: 0.5 s of 19.3 Hz, without the ends.
    expect(long.diagnostics.strokes.length)
      .toBe(whole.diagnostics.strokes.length);
    const starts = long.diagnostics.strokes.map(({ start }) => start);
    expect(starts).toEqual([...new Set(starts)].sort((a, b) => a - b));
    expect(long.modulationFrequency).toBeCloseTo(19.3, 1);
    // The truth lies within four standard uncertainties.
    const truth = trueSteps(0.25, 0.038, 0.042);
    expect(Math.abs(long.steps.value - truth))
      .toBeLessThan(4 * long.steps.standardUncertainty);
  });

  it("gives steps that measure a distance", () => {
    const { distance } = measureDistance(long, {
      refractiveIndex,
      tuning: {
        tuning: { value: tuning, standardUncertainty: 0 },
        wavelength: { value: wavelength, standardUncertainty: 0 },
      },
    });
    expect(Math.abs(distance.value - 0.25)).toBeLessThan(1e-4);
  });

  it("goes on from a state that went through JSON", async () => {
    let state: StreamState<StepsStreamState> | null = null;
    const stop = new AbortController();
    await expect(measureStepsStream(streamOfCapture(capture), {
      ...settings,
      signal: stop.signal,
      onBlock: (fraction, stand) => {
        if (fraction < 0.6) return;
        state = JSON.parse(JSON.stringify(stand()));
        stop.abort(new Error("stopped"));
      },
    })).rejects.toThrow("stopped");
    const again = await measureStepsStream(streamOfCapture(capture), {
      ...settings,
      resume: state!,
    });
    expect(again.steps).toEqual(long.steps);
    expect(again.diagnostics.strokes).toEqual(long.diagnostics.strokes);
  });

  it("says that there is no ramp", async () => {
    const still = rampCapture({
      ...bench,
      low: 0.04,
      high: 0.04,
      duration: 0.5,
    });
    await expect(measureStepsStream(streamOfCapture(still))).rejects
      .toThrow("does not change");
  });
});
