import { createCapture, findRamps, measureSteps } from "fringebook";
import { describe, expect, it } from "vitest";
import { rampCapture, trueSteps } from "./bench.ts";

/** A capture whose drive is the given course of time. */
function driven(
  course: (time: number) => number,
  { role = "drive current", unit = "A", noise = 0 } = {},
) {
  const samplingRate = 10e3;
  const drive = Float64Array.from(
    { length: 4000 },
    (_, i) => course(i / samplingRate) + noise * Math.sin(1e4 * i * i),
  );
  return createCapture([
    { name: "m", role: "monitor signal", unit: "V", samples: drive },
    { name: "d", role: role as "drive current", unit, samples: drive },
  ], { samplingRate });
}

describe("findRamps()", () => {
  it("takes the strokes of the drive where what lags turns round at the start of the record", () => {
    for (const start of [0.1, 0.3, 0.6, 0.8]) {
      const capture = rampCapture({ start, duration: 0.44 });
      const still = findRamps(capture);
      const lagging = findRamps(capture, { thermalTimeConstant: 1e-3 });
      // 1 ms of a stroke of 51 ms: all turning points come later by as much, and
      // what has only begun to lag is no stroke.
      for (const { start, end, direction } of lagging.diagnostics.strokes) {
        expect(
          still.diagnostics.strokes.some((stroke) =>
            stroke.direction === direction && start - stroke.start < 20 &&
            start - stroke.start > 0 && Math.abs(end - stroke.end) < 20
          ),
        ).toBe(true);
      }
    }
  });

  it("finds the turning points of a triangle to a fraction of a sample", () => {
    const ramps = findRamps(rampCapture({ driveNoise: 10e-6 }));
    expect(ramps.shape).toBe("triangle");
    expect(ramps.frequency.value).toBeCloseTo(9.83, 2);
    expect(ramps.lowCurrent.value * 1e3).toBeCloseTo(38, 2);
    expect(ramps.highCurrent.value * 1e3).toBeCloseTo(42, 2);
    // First turn at (1 - 0.13 - 0.5)/9.83 s; noise of 10 µA on 4 mA moves it
    // by about 0.3 samples.
    const first = ramps.diagnostics.turningPoints[0]!;
    expect(Math.abs(first - 10e3 * 0.37 / 9.83)).toBeLessThan(1);
  });

  it("smooths the current along a stroke well below the channel's noise", () => {
    const capture = rampCapture({ driveNoise: 20e-6 });
    const { strokes } = findRamps(capture).diagnostics;
    for (const { start, current } of strokes) {
      let squares = 0;
      current.forEach((value, i) =>
        squares += (value - capture.truth.current[start + i]!) ** 2
      );
      expect(Math.sqrt(squares / current.length)).toBeLessThan(3e-6);
    }
  });

  it("leaves out 2 % of each stroke at the turning points", () => {
    const { strokes, turningPoints } = findRamps(rampCapture()).diagnostics;
    const stroke = strokes[0]!;
    const length = turningPoints[1]! - turningPoints[0]!;
    expect(Math.abs(stroke.start - turningPoints[0]! - 0.02 * length))
      .toBeLessThan(1.5);
  });

  it("uses only the long strokes of a saw-tooth, after it has settled", () => {
    const ramps = findRamps(rampCapture({ shape: "sawtooth" }));
    expect(ramps.shape).toBe("sawtooth");
    expect(
      ramps.diagnostics.strokes.every(({ direction }) => direction === "up"),
    ).toBe(true);
    expect(ramps.frequency.value).toBeCloseTo(9.83, 1);
  });

  it("takes sine and voltage drives", () => {
    const sine = findRamps(
      driven((t) => 0.04 + 0.002 * Math.sin(2 * Math.PI * 20 * t)),
    );
    expect(sine.shape).toBe("sine");
    expect(sine.frequency.value).toBeCloseTo(20, 2);
    const { start, current } = sine.diagnostics.strokes[0]!;
    const middle = Math.floor(current.length / 2);
    expect(current[middle]! * 1e3).toBeCloseTo(
      40 + 2 * Math.sin(2 * Math.PI * 20 * (start + middle) / 10e3),
      3,
    );
    const voltage = findRamps(
      driven((t) => 1 - Math.abs(((20 * t) % 2) - 1), {
        role: "drive voltage",
        unit: "V",
      }),
      { currentPerVoltage: 0.004, currentOffset: 0.038 },
    );
    expect(voltage.highCurrent.value * 1e3).toBeCloseTo(42, 6);
  });

  it("follows a sine to its ends behind a channel whose noise would hide a cubic's error", () => {
    // 4 µA on ± 0.75 mA, as of 12 bits over a scope's range: a cubic through half
    // a period of a sine stays 0.9 % short at its ends (least squares, by hand).
    const ramps = findRamps(driven(
      (time) => 0.04 + 0.75e-3 * Math.sin(2 * Math.PI * 25 * time + 1.3),
      { noise: 4e-6 },
    ));
    const span = ramps.highCurrent.value - ramps.lowCurrent.value;
    expect(Math.abs(span / 1.5e-3 - 1)).toBeLessThan(0.002);
  });

  it("takes a stated waveform where only the monitor was captured", () => {
    const { channels, ...rest } = rampCapture();
    const capture = { ...rest, channels: channels.slice(0, 1) };
    const ramps = findRamps(capture, {
      drive: {
        shape: "triangle",
        frequency: 9.83,
        low: 0.038,
        high: 0.042,
        start: 0.13,
      },
    });
    expect(ramps.highCurrent.value).toBeCloseTo(0.042, 6);
    expect(() => findRamps(capture)).toThrow("neither a drive current nor");
  });

  it("finds where a stated waveform starts from the power, and says so", () => {
    const { channels, ...rest } = rampCapture();
    const capture = { ...rest, channels: channels.slice(0, 1) };
    const drive = {
      shape: "triangle",
      frequency: 9.83,
      low: 0.038,
      high: 0.042,
    } as const;
    const { warnings, diagnostics } = findRamps(capture, { drive });
    expect(warnings.map(({ code }) => code)).toContain("drive-start-found");
    const given = findRamps(capture, { drive: { ...drive, start: 0.13 } });
    // Fringes are 1 % of the power; the ramp has 1017 samples to a period.
    given.diagnostics.turningPoints.forEach((point, k) =>
      expect(Math.abs(point - diagnostics.turningPoints[k]!)).toBeLessThan(3)
    );
    const steps = measureSteps(capture, { drive });
    expect(Math.abs(steps.steps.value - trueSteps(0.15, 0.038, 0.042)))
      .toBeLessThan(5e-3);
    expect(() => findRamps(capture, { drive: { ...drive, frequency: 37.1 } }))
      .toThrow("give 'start'");
  });

  it("uses a single ramp that has no turning point", () => {
    const ramps = findRamps(driven((t) => 0.038 + 0.01 * t));
    expect(ramps.diagnostics.strokes.length).toBe(1);
    expect(ramps.warnings.map(({ code }) => code)).toContain("no-whole-ramp");
    expect(ramps.frequency.value).toBeNaN();
  });

  it("bridges a few missing samples and refuses many", () => {
    const capture = rampCapture();
    const drive = capture.channels[1]!.samples as Float64Array;
    drive.fill(NaN, 1000, 1020);
    expect(findRamps(capture).highCurrent.value * 1e3).toBeCloseTo(42, 3);
    drive.fill(NaN, 1000, 2000);
    expect(() => findRamps(capture)).toThrow("missing");
  });

  it("refuses a drive that does not ramp, saying what to do", () => {
    expect(() => findRamps(driven(() => 0.04))).toThrow(
      "it stays at 40.00 mA. Record while the ramp runs",
    );
    expect(() =>
      findRamps(driven((t) => t, { role: "drive voltage", unit: "V" }))
    ).toThrow("'currentPerVoltage' is missing");
    expect(() => findRamps(rampCapture(), { turnRound: 0.5 })).toThrow(
      "'turnRound'",
    );
  });
});
