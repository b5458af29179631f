import { describe, expect, it } from "vitest";
import {
  countFringes,
  createCapture,
  measureDisplacement,
  measureDisplacementSpectrum,
  measureMotionStream,
  measureVibration,
  simulateCapture,
  streamOfCapture,
} from "fringebook";
import type { StreamState } from "fringebook/capture";
import type { MotionStreamState } from "fringebook/motion";
import { createRandom } from "fringebook/signal";

const wavelength = 650e-9;
const capture = simulateCapture({
  distance: (time) =>
    0.1 + 2e-6 * Math.sin(2 * Math.PI * 83.3 * time) +
    1e-7 * Math.sin(2 * Math.PI * 166.6 * time) + 1e-6 * time,
  samplingRate: 200e3,
  duration: 1.5,
  feedbackParameter: 0.6,
  noise: { signalToNoiseRatio: 30 },
  drive: null,
});

describe("measureMotionStream", () => {
  it("finds what the whole record in memory shows", async () => {
    const long = await measureMotionStream(streamOfCapture(capture), {
      wavelength,
      blockLength: 50_000,
    });
    const whole = measureDisplacement(capture, { wavelength });
    const fringes = countFringes(capture, { wavelength });
    const vibration = measureVibration(whole);
    // Both learn C and α from a part of the record, but not from the same: a
    // fringe's form known to 1e-3 moves the phase by some nm.
    const formError = 2e-9;
    const near = (a: number, b: number, room = formError) =>
      expect(Math.abs(a - b)).toBeLessThan(room);
    near(long.netDisplacement.value, whole.netDisplacement.value);
    near(long.peakToPeak.value, whole.peakToPeak.value);
    // Two fits of the same samples: each other's values and the truth within U.
    const { amplitude, frequency } = vibration;
    for (
      const [one, other, truth] of [
        [long.amplitude!, amplitude, 2e-6],
        [long.harmonics[1]!, vibration.harmonics[1]!.amplitude, 1e-7],
        [long.frequency!, frequency, 83.3],
      ] as const
    ) {
      near(
        one.value,
        other.value,
        Math.hypot(one.expandedUncertainty, other.expandedUncertainty),
      );
      near(one.value, truth, 1.5 * one.expandedUncertainty);
    }
    // What the first samples leave open of the form makes it less sure.
    expect(long.amplitude!.standardUncertainty)
      .toBeGreaterThan(amplitude.standardUncertainty);
    // Five standard deviations of the stretches' phases.
    near(
      long.frequency!.value,
      83.3,
      5 * long.frequency!.standardUncertainty,
    );
    near(long.harmonics[1]!.value, 1e-7, 1e-9);
    // Each turning point may be read some 1e-3 of a fringe otherwise.
    near(long.fringeCount.value, fringes.fringeCount.value, 0.5);
    near(long.netFringeCount.value, fringes.netFringeCount.value, 0.01);
    expect(long.turningPoints).toBe(whole.turningPoints.length);
    expect(long.warnings).toEqual([]);
    expect(long.sampleCount).toBe(capture.sampleCount);
  });

  it("gives the displacement's spectrum", async () => {
    const long = await measureMotionStream(streamOfCapture(capture), {
      wavelength,
      segmentLength: 1024,
    });
    const whole = measureDisplacementSpectrum(
      measureDisplacement(capture, { wavelength }),
    );
    const rms = (frequency: Float64Array, density: Float64Array) =>
      Math.sqrt(
        density.reduce((sum, value, k) => k < 2 ? sum : sum + value ** 2, 0) *
          frequency[1]!,
      );
    const { spectrumFrequency, spectrumDensity } = long.diagnostics;
    // 2 µm and 0.1 µm: both windows hold the whole of the lines to a percent.
    expect(
      rms(spectrumFrequency, spectrumDensity) /
        rms(whole.frequency, whole.density),
    ).toBeCloseTo(1, 1.7);
    expect(rms(spectrumFrequency, spectrumDensity) / 1.4160e-6)
      .toBeCloseTo(1, 1.7);
  });

  it("goes on from a state that went through JSON, to the same digits", async () => {
    const options = { wavelength, blockLength: 30_000 };
    const states: StreamState<MotionStreamState>[] = [];
    const once = await measureMotionStream(streamOfCapture(capture), {
      ...options,
      onBlock: (fraction, state) => {
        if (fraction < 0.15 || (fraction > 0.55 && states.length === 1)) {
          states.push(JSON.parse(JSON.stringify(state())));
        }
      },
    });
    expect(states.length).toBeGreaterThan(1);
    for (const resume of states) {
      const again = await measureMotionStream(streamOfCapture(capture), {
        ...options,
        resume,
      });
      expect(JSON.stringify(again)).toBe(JSON.stringify(once));
    }
  });

  it("says that the start has no fringes", async () => {
    const still = simulateCapture({
      distance: 0.1,
      samplingRate: 100e3,
      duration: 0.1,
      noise: { signalToNoiseRatio: 20 },
    });
    await expect(
      measureMotionStream(streamOfCapture(still), { wavelength }),
    ).rejects.toThrow("no fringes");
  });

  it("says that other fringes are not the equation's", async () => {
    const random = createRandom(3);
    const samples = Float64Array.from({ length: 300_000 }, (_, i) => {
      const turns = 10e-6 / wavelength * Math.sin(2 * Math.PI * 1e-4 * i);
      return 4 * Math.abs(turns - Math.round(turns)) - 1 +
        0.0224 * random.normal();
    });
    const triangles = createCapture([{
      name: "monitor",
      role: "monitor signal",
      unit: "V",
      samples,
    }], { samplingRate: 1e6 });
    const { warnings, peakToPeak } = await measureMotionStream(
      streamOfCapture(triangles),
      { wavelength },
    );
    const warning = warnings.find(({ code }) => code === "model-misfit");
    expect(warning?.message).toContain("does not describe these fringes");
    expect(Math.abs(peakToPeak.value - 10e-6)).toBeLessThan(
      3 * peakToPeak.standardUncertainty,
    );
  });
});
