import { describe, expect, it } from "vitest";
import {
  createDisplacementTracker,
  cutCapture,
  datasetEntry,
  datasetTruth,
  loadDataset,
  measureDisplacement,
  measureRingDown,
  measureVibration,
  simulateCapture,
} from "fringebook";
import { conditionSignal } from "fringebook/motion";
import { isCoupled, longestRest } from "../../lib/motion/coupled_signal.ts";

const coupled = (couplingCorner: number | null) =>
  simulateCapture({
    distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 20 * time),
    samplingRate: 96e3,
    duration: 0.2,
    frontEnd: { couplingCorner },
    drive: null,
  });

describe("couplingCorner", () => {
  it("gives back the signal in front of the capacitor", () => {
    const direct = conditionSignal(coupled(null)).signal;
    const back = conditionSignal(coupled(2), { couplingCorner: 2 }).signal;
    const swing = Math.max(...direct) - Math.min(...direct);
    const apart = back.map((value, i) => value - direct[i]!);
    // The trapezoidal sum is good to a thousandth of the swing here.
    expect(Math.max(...apart) - Math.min(...apart)).toBeLessThan(1e-3 * swing);
  });
  it("bridges missing samples and leaves them out", () => {
    const capture = coupled(2);
    capture.channels[0]!.samples[500] = NaN;
    const { signal, missingSamples } = conditionSignal(capture, {
      couplingCorner: 2,
    });
    expect(missingSamples).toBe(1);
    expect(signal.filter(Number.isNaN).length).toBe(1);
  });
  it("must be a positive number of Hz", () => {
    expect(() =>
      measureDisplacement(coupled(2), { wavelength: 650e-9, couplingCorner: 0 })
    ).toThrow("'couplingCorner' must be a positive number of Hz");
  });
  it("is undone block by block in a stream", () => {
    const capture = coupled(2);
    const { samples } = capture.channels[0]!;
    const stream = createDisplacementTracker({
      wavelength: 650e-9,
      trainingSamples: 8192,
      couplingCorner: 2,
      samplingRate: 96e3,
    });
    const blocks = [];
    for (let i = 0; i < samples.length; i += 5000) {
      blocks.push(...stream.push(samples.slice(i, i + 5000)));
    }
    blocks.push(...stream.finish());
    const last = blocks.at(-1)!.displacement.at(-1)!;
    // Whole periods of 2 µm: back at the start, to a tenth of a fringe.
    expect(Math.abs(last)).toBeLessThan(33e-9);
    expect(() =>
      createDisplacementTracker({ wavelength: 650e-9, couplingCorner: 2 })
    ).toThrow("needs 'samplingRate'");
  });
  it("makes the ring-down behind a coupling capacitor right", async () => {
    const { known } = datasetEntry("ring-down");
    const capture = cutCapture(await loadDataset("ring-down"), {
      from: 0.041,
      to: 0.3,
    });
    const result = measureRingDown(measureDisplacement(capture, {
      wavelength: known.wavelength!.value,
      couplingCorner: known.couplingCorner!.value,
    }));
    expect(result.warnings.filter(({ severity }) => severity === "doubtful"))
      .toEqual([]);
    // Three standard uncertainties; truth of the simulated bench.
    const q = result.qualityFactor;
    const truth = datasetTruth("ring-down");
    expect(Math.abs(q.value - truth.qualityFactor!.value))
      .toBeLessThan(3 * q.standardUncertainty);
    expect(q.standardUncertainty).toBeLessThan(0.01);
  });
});

describe("a phase that was lost", () => {
  it("is found again where the capacitor shows in the levels", async () => {
    const { known } = datasetEntry("ring-down");
    const capture = cutCapture(await loadDataset("ring-down"), {
      from: 0.041,
      to: 0.2,
    });
    const displacement = measureDisplacement(capture, {
      wavelength: known.wavelength!.value,
    });
    const result = measureRingDown(displacement);
    const truth = datasetTruth("ring-down").qualityFactor!.value;
    const { value, expandedUncertainty } = result.qualityFactor;
    expect(result.warnings.map(({ code }) => code)).toContain("coupling-found");
    expect(Math.abs(value - truth)).toBeLessThan(expandedUncertainty);
    // The corner is good to some percent.
    const { couplingCorner } = conditionSignal(capture).diagnostics;
    expect(Math.abs(couplingCorner! / known.couplingCorner!.value - 1))
      .toBeLessThan(0.05);
  });
  it("holds the amplitude of a vibration within its uncertainty", async () => {
    const { known } = datasetEntry("vibration");
    const truth = datasetTruth("vibration");
    const displacement = measureDisplacement(
      cutCapture(await loadDataset("vibration"), { from: 0, to: 0.08 }),
      // The true wavelength and the index of air of the simulated bench.
      { wavelength: truth.wavelength!.value, refractiveIndex: 1.00027 },
    );
    const { amplitude } = measureVibration(displacement);
    expect(known.couplingCorner!.value).toBe(2);
    expect(Math.abs(amplitude.value - truth.amplitude!.value))
      .toBeLessThan(3 * amplitude.standardUncertainty);
    expect(amplitude.standardUncertainty).toBeLessThan(3e-9);
  });
});

describe("a coupling capacitor that is not stated", () => {
  it("shows, and so does a rest in which slow motion may hide", () => {
    // Rests for half of the record.
    const conditioned = (corner: number | null) =>
      conditionSignal(simulateCapture({
        distance: (time) =>
          0.1 + 1e-6 * Math.sin(2 * Math.PI * 20 * Math.min(time, 0.05)),
        samplingRate: 24e3,
        duration: 0.1,
        frontEnd: { couplingCorner: corner },
        noise: { signalToNoiseRatio: 20 },
        drive: null,
      }));
    expect(isCoupled(conditioned(null))).toBe(false);
    const { signal, amplitude, middle } = conditioned(60);
    expect(isCoupled({ amplitude, middle })).toBe(true);
    // Half of the record but for a window of 240 of its 2400 samples at most, in which
    // the capacitor discharges.
    const rest = longestRest(signal, amplitude, 30);
    expect(rest / signal.length).toBeGreaterThan(0.39);
    expect(rest / signal.length).toBeLessThan(0.5);
  });
});
