import { describe, expect, it } from "vitest";
import { createCapture } from "../../lib/capture/mod.ts";
import {
  datasetNames,
  datasetTruth,
  loadDataset,
} from "../../lib/datasets/mod.ts";
import { simulateCapture } from "../../lib/laser/mod.ts";
import { quantity } from "../../lib/result/mod.ts";
import { createRandom, welch } from "../../lib/signal/mod.ts";
import {
  calibrateSpeed,
  measureRotation,
  measureSpeed,
  speedFromCalibration,
  subtractBackground,
  trackSpeed,
} from "../../lib/speed/mod.ts";
import { captureOf } from "./simulated_line.ts";

const wavelength = 650e-9;

describe("the direction", () => {
  const moving = (
    speed: number,
    feedbackParameter: number,
    signalToNoiseRatio: number,
  ) =>
    simulateCapture({
      distance: (time) => 0.1 + speed * time,
      samplingRate: 200_000,
      duration: 0.1,
      feedbackParameter,
      noise: { signalToNoiseRatio },
    });

  it("follows from the saw-tooth form, below and above C = 1", () => {
    for (const feedbackParameter of [0.3, 0.7, 2]) {
      for (const speed of [3e-3, -3e-3]) {
        const result = measureSpeed(moving(speed, feedbackParameter, 20), {
          wavelength,
        });
        expect(result.direction).toBe(speed > 0 ? "receding" : "approaching");
        expect(Math.abs(result.speed.value / 3e-3 - 1)).toBeLessThan(1e-4);
      }
    }
  });

  it("turns with the polarity of the amplifier", () => {
    const capture = moving(3e-3, 0.7, 20);
    expect(measureSpeed(capture, { wavelength, polarity: -1 }).direction)
      .toBe("approaching");
  });

  it("is not determined where the fringes are symmetric", () => {
    const capture = moving(3e-3, 0.001, 20);
    expect(measureSpeed(capture, { wavelength }).direction)
      .toBe("not determined");
  });
});

describe("trackSpeed()", () => {
  it("holds a sweep of 10:1 at 10 dB from the first frame to the last", () => {
    const samplingRate = 100_000, duration = 0.3;
    const truth = (time: number) => 1e-3 * 10 ** (time / duration);
    const random = createRandom(9);
    let phase = 0;
    const samples = Float64Array.from(
      { length: samplingRate * duration },
      (_, n) => {
        phase += 4 * Math.PI * 1.00027 * truth(n / samplingRate) / wavelength /
          samplingRate;
        return Math.cos(phase) + Math.sqrt(0.05) * random.normal();
      },
    );
    const track = trackSpeed(captureOf(samples, samplingRate), { wavelength });
    expect(track.seenFraction).toBe(1);
    track.time.forEach((time, i) => {
      // Half a bin of the finest frames is 1 % at the slow end.
      expect(Math.abs(track.speed[i]! / truth(time) - 1)).toBeLessThan(0.01);
    });
    // d ln v / dt = ln 10 / duration.
    const middle = Math.floor(track.time.length / 2);
    const expected = truth(track.time[middle]!) * Math.LN10 / duration;
    expect(Math.abs(track.acceleration[middle]! / expected - 1))
      .toBeLessThan(0.05);
  });

  it("reports zero crossings, and the sign between them", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 0.6e-3 * Math.sin(2 * Math.PI * time),
      samplingRate: 100_000,
      duration: 1.2,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 10 },
    });
    const track = trackSpeed(capture, { wavelength });
    // v ∝ cos 2πt: zero at 0.25 and 0.75 s.
    expect(track.zeroCrossings.length).toBe(2);
    for (const [i, time] of [0.25, 0.75].entries()) {
      const { value, standardUncertainty } = track.zeroCrossings[i]!;
      expect(Math.abs(value - time)).toBeLessThan(4 * standardUncertainty);
      expect(standardUncertainty).toBeLessThan(0.01);
    }
    expect(track.spans.map(({ direction }) => direction))
      .toEqual(["receding", "approaching", "receding"]);
    track.time.forEach((time, i) => {
      const truth = 0.6e-3 * 2 * Math.PI * Math.cos(2 * Math.PI * time);
      if (Math.abs(truth) < 5e-4) return;
      expect(Math.abs(track.velocity[i]! / truth - 1)).toBeLessThan(0.02);
    });
  });

  it("does not take a slow stretch for a zero crossing", () => {
    for (const least of [0.3, 0.15]) {
      const capture = simulateCapture({
        distance: (time) =>
          0.1 + 2e-3 * ((1 + least) * time +
              Math.sin(2 * Math.PI * time) / (2 * Math.PI)),
        samplingRate: 100_000,
        duration: 1,
        feedbackParameter: 0.7,
        noise: { signalToNoiseRatio: 10 },
      });
      const track = trackSpeed(capture, { wavelength });
      expect(track.zeroCrossings).toEqual([]);
      expect(track.spans.map(({ direction }) => direction))
        .toEqual(["receding"]);
    }
  });

  it("leaves drop-outs empty and finds the line again", () => {
    const random = createRandom(14);
    const samplingRate = 100_000;
    const samples = Float64Array.from({ length: 60_000 }, (_, n) => {
      const lit = n < 20_000 || n > 30_000;
      return (lit ? Math.cos(2 * Math.PI * (0.05 * n + 1e-6 * n * n)) : 0) +
        0.3 * random.normal();
    });
    const track = trackSpeed(captureOf(samples, samplingRate), {
      wavelength,
      segmentLength: 512,
    });
    expect(track.diagnostics.dropouts).toBe(1);
    expect(track.warnings.map(({ code }) => code)).toContain("dropouts");
    track.time.forEach((time, i) => {
      const n = time * samplingRate;
      if (n > 20_500 && n < 29_500) expect(track.speed[i]!).toBeNaN();
      if (n < 19_500 || n > 30_500) {
        const turns = 0.05 + 2e-6 * n;
        // A tenth of a bin.
        expect(Math.abs(track.frequency[i]! / samplingRate - turns))
          .toBeLessThan(0.2 / 512);
      }
    });
  });

  it("says where a line is folded at half the sampling rate", () => {
    const random = createRandom(1);
    let phase = 0;
    const count = 100_000;
    const samples = Float64Array.from({ length: count }, (_, n) => {
      phase += 2 * Math.PI * (0.2 + 0.6 * n / count);
      return Math.cos(phase) + 0.1 * random.normal();
    });
    const track = trackSpeed(captureOf(samples, 1e5), { wavelength });
    expect(track.warnings.map(({ code }) => code)).toContain("aliased");
  });

  it("refuses noise, short records and bad frames", () => {
    const random = createRandom(2);
    const noise = Float64Array.from({ length: 16384 }, () => random.normal());
    const capture = captureOf(noise, 1e5);
    expect(() => trackSpeed(capture, { wavelength })).toThrow("no line rises");
    expect(() => trackSpeed(capture, { wavelength, segmentLength: 1000 }))
      .toThrow("power of two");
    expect(() =>
      trackSpeed(captureOf(noise.slice(0, 500), 1e5), { wavelength })
    )
      .toThrow("at least 2048");
  });
});

describe("a speed that turns", () => {
  const samplingRate = 100_000;
  const moving = (way: (time: number) => number, duration: number, seed = 5) =>
    simulateCapture({
      distance: (time) => 0.1 + way(time),
      samplingRate,
      duration,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 15 },
      drive: null,
      seed,
    });

  it("is seen to turn, however short the turn is beside the record", () => {
    // v = -6 mm/s tanh((t - 0.3)/8 ms): 4096 samples gather most of the line.
    const width = 8e-3;
    const capture = moving(
      (time) => -6e-3 * width * Math.log(Math.cosh((time - 0.3) / width)),
      0.6,
    );
    const track = trackSpeed(capture, { wavelength });
    expect(track.zeroCrossings.length).toBe(1);
    const { value, standardUncertainty } = track.zeroCrossings[0]!;
    expect(Math.abs(value - 0.3)).toBeLessThan(4 * standardUncertainty);
    expect(standardUncertainty).toBeLessThan(2e-3);
    expect(track.lowestSpeed.value).toBe(0);
    expect(Math.abs(track.highestSpeed.value / 6e-3 - 1)).toBeLessThan(0.01);
    expect(track.spans.map(({ direction }) => direction))
      .toEqual(["receding", "approaching"]);
  });

  it("stands still between stop and start, with times", () => {
    // 10 mm/s down to 0 in 0.2 s, rest, from 0.45 s on up again.
    const capture = moving(
      (time) =>
        time < 0.2
          ? 10e-3 * (time - time * time / 0.4)
          : 1e-3 + (time < 0.45 ? 0 : 10e-3 * (time - 0.45) ** 2 / 0.4),
      0.65,
    );
    const track = trackSpeed(capture, { wavelength });
    expect(track.zeroCrossings).toEqual([]);
    expect(track.standstills.length).toBe(1);
    const { from, to } = track.standstills[0]!;
    expect(Math.abs(from.value - 0.2)).toBeLessThan(
      4 * from.standardUncertainty,
    );
    expect(Math.abs(to.value - 0.45)).toBeLessThan(4 * to.standardUncertainty);
    expect(track.lowestSpeed.value).toBe(0);
    expect(track.warnings.map(({ code }) => code)).not.toContain("dropouts");
  });

  it("stops at once and starts the other way, with times and ways", () => {
    const capture = moving(
      (time) => 5e-3 * Math.min(time, 0.12) - 3e-3 * Math.max(0, time - 0.15),
      0.3,
    );
    const { standstills, spans, zeroCrossings, lowestSpeed } = trackSpeed(
      capture,
      { wavelength },
    );
    const [{ from, to }] = standstills as [typeof standstills[number]];
    // Half a period of the slower line, 9.2 kHz.
    expect(Math.abs(from.value - 0.12)).toBeLessThan(2e-4);
    expect(Math.abs(to.value - 0.15)).toBeLessThan(2e-4);
    expect(spans.map(({ direction }) => direction))
      .toEqual(["receding", "approaching"]);
    expect(zeroCrossings).toEqual([]);
    expect(lowestSpeed.value).toBe(0);
  });

  it("comes back with every turn of an eccentric shaft, by its depth", () => {
    const capture = moving(
      (time) =>
        5e-3 * time -
        5e-3 * 0.08 / (2 * Math.PI * 10) * Math.cos(2 * Math.PI * 10 * time),
      1,
    );
    const { modulation, secondSpeed } = trackSpeed(capture, { wavelength });
    expect(Math.abs(modulation!.frequency.value - 10)).toBeLessThan(0.005);
    // Frames see less of the change: it is put back to a part in 200.
    expect(Math.abs(modulation!.depth.value / 0.08 - 1)).toBeLessThan(0.005);
    expect(secondSpeed).toBe(null);
  });

  it("is told beside another", () => {
    const one = moving((time) => 10e-3 * time, 0.5);
    const other = moving((time) => 3.7e-3 * time, 0.5, 6);
    const samples = Float64Array.from(
      { length: one.sampleCount },
      (_, i) => one.channels[0]!.samples[i]! + other.channels[0]!.samples[i]!,
    );
    const track = trackSpeed(captureOf(samples, samplingRate), { wavelength });
    const both = [track.meanSpeed.value, track.secondSpeed!.value].sort();
    expect(Math.abs(both[0]! / 3.7e-3 - 1)).toBeLessThan(1e-3);
    expect(Math.abs(both[1]! / 10e-3 - 1)).toBeLessThan(1e-3);
    expect(track.warnings.map(({ code }) => code)).toContain("two-speeds");
  });
});

describe("measureRotation()", () => {
  it("gets the rate of an eccentric shaft by two independent ways", () => {
    const rate = 20, offset = 1e-3, turn = 2 * Math.PI * rate;
    // Grazing beam: the velocity along it is Ω times its distance to the axis.
    const capture = simulateCapture({
      distance: (time) =>
        0.1 + offset * (turn * time + 0.02 * Math.sin(turn * time)),
      samplingRate: 1e6,
      duration: 0.4,
      feedbackParameter: 0.7,
      noise: { signalToNoiseRatio: 10 },
      drive: null,
    });
    const result = measureRotation(capture, {
      wavelength,
      radius: offset,
      radiusStandardUncertainty: 5e-6,
    });
    expect(Math.abs(result.rotationRate.value - rate))
      .toBeLessThan(2 * result.rotationRate.standardUncertainty);
    expect(Math.abs(result.modulationRate!.value / rate - 1))
      .toBeLessThan(2e-3);
    expect(result.marksPerTurn).toBe(1);
    expect(result.agrees).toBe(true);
    expect(result.revolutionsPerMinute.value)
      .toBeCloseTo(60 * result.rotationRate.value, 9);
    // A radius that is 10 % wrong shows in the disagreement of the two ways.
    const wrong = measureRotation(capture, {
      wavelength,
      radius: 1.1 * offset,
      radiusStandardUncertainty: 5e-6,
    });
    expect(wrong.agrees).toBe(false);
    expect(wrong.warnings.map(({ code }) => code)).toContain("ways-disagree");
  });
});

describe("calibrateSpeed()", () => {
  it("finds the angle of a bench from a known turntable", () => {
    const random = createRandom(17);
    const angle = 1.31;
    let squares = 0;
    const trials = 200;
    for (let trial = 0; trial < trials; trial++) {
      const points = [0.02, 0.04, 0.06, 0.08, 0.1].map((speed) => ({
        speed,
        frequency: 2 * speed * Math.cos(angle) / wavelength +
          8 * random.normal(),
        frequencyStandardUncertainty: 8,
      }));
      const found = calibrateSpeed(points, {
        wavelength,
        refractiveIndex: 1,
      }).angle;
      squares += ((found.value - angle) / found.standardUncertainty) ** 2 /
        trials;
    }
    // The mean of 200 squared normal values: 1 ± 0.1; four times that.
    expect(Math.abs(squares - 1)).toBeLessThan(0.4);
  });

  it("gives speeds that need neither wavelength nor angle", () => {
    const points = [0.02, 0.05, 0.1].map((speed) => ({
      speed,
      frequency: 800_000 * speed,
      frequencyStandardUncertainty: 10,
    }));
    const calibration = calibrateSpeed(points, {
      wavelength,
      speedScaleRelativeStandardUncertainty: 0.004,
    });
    const speed = speedFromCalibration(calibration, quantity(32_000, 10, "Hz"));
    expect(speed.value).toBeCloseTo(0.04, 9);
    // 0.4 % shared by all speeds dominates: 10 Hz is 0.03 %.
    expect(speed.standardUncertainty / speed.value).toBeCloseTo(0.004, 4);
  });

  it("warns of an impossible angle and of an offset", () => {
    const points = (offset: number, slope: number) =>
      [0.02, 0.05, 0.1].map((speed) => ({
        speed,
        frequency: offset + slope * speed,
        frequencyStandardUncertainty: 10,
      }));
    const codes = (offset: number, slope: number) =>
      calibrateSpeed(points(offset, slope), { wavelength }).warnings
        .map(({ code }) => code);
    // 2/λ = 3.077e6 per m is the most there can be.
    expect(codes(0, 4e6)).toContain("angle-impossible");
    expect(codes(500, 1e6)).toContain("offset");
    expect(codes(0, 1e6)).toEqual([]);
    expect(() => calibrateSpeed(points(0, 1e6).slice(0, 2), { wavelength }))
      .toThrow("at least three");
  });
});

describe("subtractBackground()", () => {
  it("leaves the power that the target adds", () => {
    const random = createRandom(23);
    const count = 1 << 16;
    const noise = () =>
      Float64Array.from({ length: count }, () => random.normal());
    const tone = noise().map((value, n) =>
      value + 0.5 * Math.cos(2 * Math.PI * 0.123 * n)
    );
    const options = { samplingRate: 1000, segmentLength: 1024 };
    const rest = subtractBackground(
      welch(tone, options),
      welch(noise(), options),
    );
    // A²/2 = 0.125; the two noise powers of 1 are known to √(2/65536) each.
    expect(Math.abs(rest.addedPower - 0.125)).toBeLessThan(4 * 0.0079);
    expect(() =>
      subtractBackground(
        welch(tone, options),
        welch(noise(), { ...options, segmentLength: 512 }),
      )
    ).toThrow("bins differ");
  });
});

describe("a direction channel", () => {
  it("gives the sign where the fringes do not", () => {
    const samplingRate = 100_000, count = 120_000;
    const random = createRandom(31);
    const speed = (time: number) => 4e-3 * Math.cos(2 * Math.PI * time);
    let phase = 0;
    const samples = new Float64Array(count);
    const motor = new Float64Array(count);
    const positioner = new Float64Array(count);
    for (let n = 0; n < count; n++) {
      const time = n / samplingRate;
      phase += 4 * Math.PI * 1.00027 * speed(time) / wavelength / samplingRate;
      samples[n] = Math.cos(phase) + 0.2 * random.normal();
      motor[n] = 2 * speed(time) / 4e-3 + 0.05 * random.normal();
      positioner[n] = -Math.sin(2 * Math.PI * time) + 0.01 * random.normal();
    }
    const capture = createCapture([
      { name: "A", role: "monitor signal", unit: "V", samples },
      { name: "motor", role: "drive voltage", unit: "V", samples: motor },
      { name: "stage", role: "other", unit: "V", samples: positioner },
    ], { samplingRate });
    const spans = (
      name: string,
      reading: "value" | "slope",
      polarity: 1 | -1,
    ) =>
      trackSpeed(capture, {
        wavelength,
        directionChannel: { name, reading, polarity },
      }).spans.map(({ direction }) => direction);
    const expected = ["receding", "approaching", "receding"];
    expect(spans("motor", "value", 1)).toEqual(expected);
    expect(spans("stage", "slope", -1)).toEqual(expected);
    expect(() => spans("no such", "value", 1)).toThrow("'no such'");
  });
});

describe("the discs of the simulated bench", () => {
  it("turn as fast as their truth says, by the measured speed", async () => {
    for (const name of datasetNames("disc")) {
      const capture = await loadDataset(name);
      const truth = datasetTruth(name);
      const result = measureSpeed(capture, {
        wavelength: truth.wavelength!.value,
        angle: truth.angle!.value,
      });
      expect(result.lineForm).toBe("broadened");
      expect(result.direction).toBe("receding");
      // Three seeded cases: within 3.5 standard uncertainties each.
      expect(Math.abs(result.speed.value - truth.speed!.value))
        .toBeLessThan(3.5 * result.speed.standardUncertainty);
      // Better than the published 1 % by far.
      expect(result.speed.standardUncertainty / result.speed.value)
        .toBeLessThan(1e-3);
    }
  });
});

describe("the motor of the simulated bench", () => {
  // Source of both: the times planted in the simulated captures.
  const track = async (name: string) =>
    trackSpeed(await loadDataset(name), {
      wavelength: datasetTruth(name).wavelength!.value,
      angle: datasetTruth(name).angle!.value,
    });
  interface Found {
    readonly value: number;
    readonly standardUncertainty: number;
  }
  const near = ({ value, standardUncertainty }: Found, truth: number) =>
    expect(Math.abs(value - truth)).toBeLessThan(3 * standardUncertainty);
  const within = (found: Found, truth: number) => {
    near(found, truth);
    const { standardUncertainty } = found;
    // A few fringes of 10 kHz: a time that is any worse tells nothing.
    expect(standardUncertainty).toBeLessThan(3e-4);
  };

  it("turns round when its truth says", async () => {
    const { zeroCrossings, standstills, spans } = await track("motor-turns");
    expect(zeroCrossings.length).toBe(1);
    within(zeroCrossings[0]!, datasetTruth("motor-turns").turningTime!.value);
    expect(standstills).toEqual([]);
    expect(spans.map(({ direction }) => direction))
      .toEqual(["receding", "approaching"]);
  });

  it("swings once per turn, by rate and depth of its truth", async () => {
    const { modulation, secondSpeed, zeroCrossings } = await track(
      "motor-eccentric",
    );
    const { rotationRate, depth } = datasetTruth("motor-eccentric");
    near(modulation!.frequency, rotationRate!.value);
    near(modulation!.depth, depth!.value);
    expect(modulation!.depth.standardUncertainty).toBeLessThan(1e-3);
    expect(secondSpeed).toBe(null);
    expect(zeroCrossings).toEqual([]);
  });

  it("has two speeds where a belt runs beside, and says so", async () => {
    const { meanSpeed, secondSpeed, modulation, warnings } = await track(
      "motor-belt",
    );
    const truth = datasetTruth("motor-belt");
    near(meanSpeed, truth.speed!.value);
    near(secondSpeed!, truth.secondSpeed!.value);
    // The angle and the wavelength are common to both.
    expect(secondSpeed!.value / meanSpeed.value)
      .toBeCloseTo(truth.secondSpeed!.value / truth.speed!.value, 3);
    expect(modulation).toBe(null);
    expect(warnings.map(({ code }) => code)).toContain("two-speeds");
  });

  it("stops and starts when its truth says", async () => {
    const { zeroCrossings, standstills, spans, frequency, time } = await track(
      "motor-stops",
    );
    const { stopTime, startTime } = datasetTruth("motor-stops");
    expect(zeroCrossings).toEqual([]);
    expect(standstills.length).toBe(1);
    within(standstills[0]!.from, stopTime!.value);
    within(standstills[0]!.to, startTime!.value);
    // Some sixteen pieces of the record on either side of the rest, and all agree.
    expect(spans.map(({ direction }) => direction))
      .toEqual(["receding", "receding"]);
    const inRest = frequency.filter((_, k) =>
      time[k]! > stopTime!.value + 1e-3 && time[k]! < startTime!.value - 1e-3
    );
    expect(inRest.every(Number.isNaN)).toBe(true);
  });
});
