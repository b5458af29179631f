import { describe, expect, it } from "vitest";
import {
  createCapture,
  datasetTruth,
  encodeCapture,
  loadDataset,
  measureCapture,
  measureCaptureStream,
  openCaptureStream,
  rampCurrent,
  recogniseMeasurement,
  simulateCapture,
} from "fringebook";
import type { Quantity } from "fringebook/result";
import { createRandom } from "fringebook/signal";

const noise = { white: 0.3e-3 };

describe("recogniseMeasurement", () => {
  it("takes a shaken target for a motion, with and without a drive channel", () => {
    for (const amplitude of [1e-6, 3e-6, 20e-6]) {
      for (const frequency of [5, 40, 120]) {
        const capture = simulateCapture({
          distance: (time) =>
            0.1 + amplitude * Math.sin(2 * Math.PI * frequency * time),
          samplingRate: 400_000,
          duration: 0.4,
          feedbackParameter: 1.5,
          drive: null,
          noise,
          seed: 3,
        });
        expect(recogniseMeasurement(capture).measurement).toBe("motion");
      }
    }
  });
  it("takes an evenly running surface for a speed", () => {
    for (const velocity of [1e-3, 5e-3, 20e-3]) {
      for (const feedbackParameter of [0.1, 1, 2]) {
        const capture = simulateCapture({
          distance: (time) => 0.1 + velocity * time,
          samplingRate: 400_000,
          duration: 0.2,
          feedbackParameter,
          drive: null,
          noise,
          seed: 4,
        });
        expect(recogniseMeasurement(capture).measurement).toBe("speed");
      }
    }
  });
  it("takes a ramped diode current for a distance", () => {
    const samplingRate = 100_000;
    const current = rampCurrent({ low: 0.038, high: 0.042, frequency: 100 });
    const capture = simulateCapture({
      distance: 0.2,
      current,
      samplingRate,
      duration: 0.1,
      noise,
    });
    const found = recogniseMeasurement(capture);
    expect(found.measurement).toBe("distance");
    expect(found.diagnostics.drive.strokes).toBeGreaterThanOrEqual(19);
  });
  it("takes a sweep from zero current for a light-current curve", () => {
    const capture = simulateCapture({
      distance: 0.1,
      current: (time) => 0.06 * time,
      samplingRate: 5000,
      duration: 1,
      noise,
    });
    expect(recogniseMeasurement(capture).measurement).toBe(
      "light-current curve",
    );
  });
  it("is right about the captures of the simulated bench", async () => {
    const expected = [
      ["tuning-060mm", "distance"],
      ["distance-c", "distance"],
      ["vibration", "motion"],
      ["ring-down", "motion"],
      ["disc-1", "speed"],
      ["disc-3", "speed"],
      ["light-current-25c", "light-current curve"],
      ["light-current-45c", "light-current curve"],
      ["level-card", "level"],
      ["level-film", "level"],
      ["level-empty", "level"],
      ["level-card-rests", "level"],
      ["level-visits", "level"],
    ] as const;
    for (const [name, measurement] of expected) {
      const found = recogniseMeasurement(await loadDataset(name));
      expect(`${name}: ${found.measurement}`).toBe(`${name}: ${measurement}`);
    }
    const bad = recogniseMeasurement(await loadDataset("bad"));
    expect(bad.warnings.map(({ code }) => code)).toContain("near-nyquist");
  });
  it("measures a level as a level, with what comes next, and never as a speed", async () => {
    const empty = await loadDataset("level-empty");
    const { check, recognition, results } = measureCapture(empty, {
      wavelength: 650e-9,
    });
    expect(recognition.nextStep).toContain("deno task level");
    // Fringes are not asked for, so that none are missed.
    expect(check.warnings.map(({ code }) => code)).not.toContain("low-snr");
    expect(results.map(({ kind }) => kind)).toEqual(["level.level"]);
    const { level } = results[0] as unknown as { level: Quantity };
    const { value } = datasetTruth("level-empty").emptyLevel!;
    // A converter step of 24 nA and a power that walks by some 2e-5.
    expect(Math.abs(level.value - value)).toBeLessThan(
      2 * level.expandedUncertainty + 2e-5 * value,
    );
  });
  it("takes slow fringes on a level for fringes, however slow and fast", () => {
    const kinds = [0.01, 0.03, 0.1, 0.3, 0.8].map((rate) =>
      recogniseMeasurement(simulateCapture({
        distance: (time) => 0.1 + rate * 1e3 * 325e-9 / 5 * time,
        samplingRate: 1e3,
        duration: 4,
        drive: null,
        noise: { signalToNoiseRatio: 10 },
        seed: 7,
      })).measurement
    );
    expect(kinds).not.toContain("level");
  });
  it("does not call a sweep that begins below threshold saturated", async () => {
    const sweep = await loadDataset("light-current-25c");
    const { check } = measureCapture(sweep, { wavelength: 650e-9 });
    expect(check.verdict).toBe("good");
  });
  it("measures a decay as a ring-down and a lasting swing as a vibration", () => {
    for (const [decay, kind] of [[25, "ringDown"], [0, "vibration"]] as const) {
      const capture = simulateCapture({
        distance: (time) =>
          0.1 + 3e-6 * Math.exp(-decay * time) *
            Math.cos(2 * Math.PI * 100 * time),
        samplingRate: 50e3,
        duration: 0.06,
        drive: null,
        noise: { signalToNoiseRatio: 30 },
      });
      const { results } = measureCapture(capture, {
        wavelength: 650e-9,
        measurement: "motion",
      });
      expect(results.map((result) => result.kind)).toEqual([
        `motion.${kind}`,
        "motion.displacement",
        "motion.fringes",
      ]);
    }
  });
  it("says 'none' of noise alone, of a constant and of NaN", () => {
    const random = createRandom(1);
    const capture = (samples: Float64Array) =>
      createCapture([{
        name: "A",
        role: "monitor signal",
        unit: "V",
        samples,
      }], { samplingRate: 1e5 });
    const all = [
      Float64Array.from({ length: 20_000 }, () => random.normal()),
      new Float64Array(1000).fill(1),
      new Float64Array(1000).fill(NaN),
    ];
    for (const samples of all) {
      expect(recogniseMeasurement(capture(samples)).measurement).toBe("none");
    }
  });
});

describe("measureCaptureStream", () => {
  it("holds a motion against what is seen, as measureCapture does", async () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 0.2e-6 * Math.sin(2 * Math.PI * 20 * time),
      samplingRate: 20e3,
      duration: 0.05,
      feedbackParameter: 0.5,
      drive: null,
      noise: { signalToNoiseRatio: 30 },
    });
    using stream = await openCaptureStream(
      encodeCapture(capture, { format: "WAV" }),
    );
    const { results } = await measureCaptureStream(stream, {
      wavelength: 650e-9,
      measurement: "motion",
    });
    // Four times 0.2 µm are 2.5 fringes.
    expect(results[0]!.warnings[0]).toMatchObject({ code: "contradiction" });
    expect(results[0]!.warnings[0]!.message).toMatch(
      /passes 2\.\d fringes only/,
    );
  });
});

describe("measureCapture", () => {
  const turn = 2 * Math.PI;
  const kinds = (
    way: (time: number) => number,
    samplingRate: number,
    duration: number,
  ) =>
    measureCapture(
      simulateCapture({
        distance: (time) => 0.1 + way(time),
        samplingRate,
        duration,
        feedbackParameter: 0.7,
        noise: { signalToNoiseRatio: 25 },
        drive: null,
        seed: 5,
      }),
      { wavelength: 650e-9 },
    ).results.map(({ kind }) => kind);

  it("averages the periods of a motion that is no sine", () => {
    // A ramp that rises for 0.8 of its period, its corners rounded.
    const parts = Array.from({ length: 9 }, (_, k) => {
      const h = k + 1;
      const round = Math.sin(Math.PI * h / 10) / (Math.PI * h / 10);
      return 4e-6 / (Math.PI ** 2 * h * h * 0.16) *
        Math.sin(0.8 * Math.PI * h) * round;
    });
    const ramp = (time: number) =>
      parts.reduce(
        (sum, part, k) => sum + part * Math.sin(turn * (k + 1) * 40 * time),
        0,
      );
    expect(kinds(ramp, 60e3, 0.15)[0]).toBe("motion.waveform");
  });

  it("follows a speed that turns in a short time, or comes back", () => {
    const turns = (time: number) =>
      -6e-3 * 8e-3 * Math.log(Math.cosh((time - 0.3) / 8e-3));
    expect(kinds(turns, 1e5, 0.6)).toEqual(["speed.track"]);
    const eccentric = (time: number) =>
      5e-3 * time - 5e-3 * 0.08 / (turn * 10) * Math.cos(turn * 10 * time);
    expect(kinds(eccentric, 1e5, 0.6)).toEqual([
      "speed.doppler",
      "speed.track",
    ]);
  });
});
