import { describe, expect, it } from "vitest";
import {
  calibratePresence,
  createCapture,
  findPresence,
  simulateCapture,
} from "fringebook";
import { createByteDecoder, encodeCapture } from "fringebook/capture";
import { advise } from "../../lib/live/advice.ts";
import { CaptureTaker } from "../../lib/live/capture_taker.ts";
import { LivePresence } from "../../lib/live/live_presence.ts";
import { judgeSafety } from "../../lib/live/live_safety.ts";
import { traceColumns } from "../../lib/live/live_trace.ts";
import { type LiveReading, readMeter } from "../../lib/live/meter.ts";
import { RateWatch } from "../../lib/live/rate_watch.ts";
import { SampleRing } from "../../lib/live/sample_ring.ts";
import {
  SimulatedSignal,
  startKnobs,
} from "../../lib/live/simulated_signal.ts";
import { Strength } from "../../lib/live/strength.ts";
import { Threshold } from "../../lib/live/threshold.ts";
import { findPassage } from "../../lib/live/trigger.ts";

const count = (from: number, length: number) =>
  Float64Array.from({ length }, (_, i) => from + i);

describe("the ring of the last samples", () => {
  it("keeps the last, in order, over its own end", () => {
    const ring = new SampleRing(2, 10);
    for (let k = 0; k < 7; k++) {
      ring.push([count(3 * k, 3), count(100 + 3 * k, 3)], true);
    }
    expect([ring.start, ring.end]).toEqual([11, 21]);
    const [first, second] = ring.copy(12, 20);
    expect([...first!]).toEqual([...count(12, 8)]);
    expect([...second!]).toEqual([...count(112, 8)]);
    // A block longer than the ring leaves its end.
    ring.push([count(21, 25), count(121, 25)], true);
    expect([...ring.copy(0, 99)[0]!]).toEqual([...count(36, 10)]);
  });

  it("gives nothing across a gap", () => {
    const ring = new SampleRing(1, 10);
    ring.push([count(0, 6)], true);
    ring.push([count(50, 2)], false);
    expect([...ring.copy(0, 99)[0]!]).toEqual([50, 51]);
  });
});

describe("bytes that come in little by little", () => {
  const capture = createCapture([
    {
      name: "CH1",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.from({ length: 100 }, (_, i) => Math.sin(i)),
    },
    {
      name: "CH2",
      role: "drive current",
      unit: "A",
      samples: Float64Array.from({ length: 100 }, (_, i) => i / 1000),
    },
  ], { samplingRate: 10e3 });

  for (const format of ["WAV", "delimited text"] as const) {
    it(`are the samples of the whole, wherever they are cut: ${format}`, () => {
      const bytes = encodeCapture(capture, { format });
      const decoder = createByteDecoder();
      const found: number[][] = [[], []];
      for (let at = 0, step = 1; at < bytes.length; at += step) {
        step = 1 + (7 * step + 13) % 97;
        const { samples } = decoder.push(bytes.slice(at, at + step));
        samples.forEach((values, k) => found[k]!.push(...values));
      }
      expect(decoder.head!.samplingRate).toBe(10e3);
      expect(decoder.head!.channels.map(({ name, role, unit }) => [
        name,
        role,
        unit,
      ])).toEqual([["CH1", "monitor signal", "V"], [
        "CH2",
        "drive current",
        "A",
      ]]);
      expect(found).toEqual(
        capture.channels.map(({ samples }) => [...samples]),
      );
    });
  }

  it("are scaled as readCapture scales: a WAV of a recorder that knows no length", () => {
    // Head of RIFF WAVE, PCM 16 bit, two channels, sizes unknown.
    const head = new Uint8Array(44);
    const view = new DataView(head.buffer);
    const put = (at: number, text: string) =>
      head.set(new TextEncoder().encode(text), at);
    put(0, "RIFF");
    view.setUint32(4, 0xffffffff, true);
    put(8, "WAVEfmt ");
    view.setUint32(16, 16, true);
    view.setUint16(20, 1, true);
    view.setUint16(22, 2, true);
    view.setUint32(24, 48000, true);
    view.setUint32(28, 192000, true);
    view.setUint16(32, 4, true);
    view.setUint16(34, 16, true);
    put(36, "data");
    view.setUint32(40, 0xffffffff, true);
    const decoder = createByteDecoder({
      channels: { "0": { role: "monitor signal", unit: "V", scale: 2 } },
    });
    expect(decoder.push(head).samples).toEqual([]);
    const { samples } = decoder.push(Uint8Array.of(0, 64, 0, 192));
    // Half of full scale, of ±2 V; minus half of full scale without a unit.
    expect(samples.map((values) => [...values])).toEqual([[1], [-0.5]]);
  });

  it("leave a missing value where a line is no sample, and count it", () => {
    const decoder = createByteDecoder({ samplingRate: 100 });
    const lines = Array.from({ length: 12 }, (_, i) => `${i}.5;${i}`);
    const text = `${lines.join("\n")}\nxx;garbage\n13.5;13\n14`;
    const { samples, garbage } = decoder.push(new TextEncoder().encode(text));
    expect(garbage).toBe(1);
    expect([...samples[0]!].slice(-3)).toEqual([11.5, NaN, 13.5]);
  });
});

describe("the meter", () => {
  it("reads height, contrast and fringe rate of a known motion", () => {
    // Two beams: P = P0 (1 + m cos φ), C → 0. 4π A f / λ fringes per second.
    const capture = simulateCapture({
      distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 37 * time),
      samplingRate: 100e3,
      duration: 0.25,
      feedbackParameter: 0.01,
      modulationIndex: 0.02,
      noise: { white: 1e-4 },
      drive: null,
    });
    const reading = readMeter(capture);
    expect(reading.contrast).toBeGreaterThan(0.018);
    expect(reading.contrast).toBeLessThan(0.022);
    // The rate where the target is fastest, seen through some ten fringes.
    const fastest = 4 * Math.PI * 37 * 2e-6 / 650e-9;
    expect(reading.fringeRate / fastest).toBeGreaterThan(0.9);
    expect(reading.fringeRate / fastest).toBeLessThan(1.02);
    expect(reading.noise / 1e-4).toBeGreaterThan(0.9);
    expect(reading.noise / 1e-4).toBeLessThan(1.1);
  });

  /** Reading of a quarter of a second of the simulated bench. */
  function readingOf(knobs: Partial<typeof startKnobs>): LiveReading {
    const signal = new SimulatedSignal(48e3, 3);
    const [monitor, drive] = signal.next(12e3, {
      ...startKnobs,
      focus: 0,
      ...knobs,
    });
    const channel = { scale: 1, fullScale: { low: -1, high: 1 } };
    return readMeter(createCapture([
      {
        ...channel,
        name: "monitor",
        role: "monitor signal",
        unit: "V",
        samples: monitor!,
      },
      {
        ...channel,
        name: "drive",
        role: "drive current",
        unit: "A",
        samples: drive!,
      },
    ], { samplingRate: 48e3 }));
  }
  const steady = { part: 1, direction: "steady" } as const;

  it("tells what is to be seen to first", () => {
    const seen = (knobs: Partial<typeof startKnobs>) =>
      advise(readingOf(knobs), steady, null).state;
    expect(seen({})).toBe("good");
    expect(seen({ motionAmplitude: 0, rampAmplitude: 3e-3 })).toBe("good");
    expect(seen({ focus: 1e-3 })).toBe("weak");
    expect(seen({ blocked: true })).toBe("no fringes");
    expect(seen({ motionAmplitude: 0 })).toBe("no fringes");
    expect(seen({ gain: 2.2 })).toBe("clipped");
    expect(seen({ hum: 0.02 })).toBe("mains hum");
    expect(seen({ motionAmplitude: 0.4e-3 })).toBe("aliased");
    expect(seen({ surface: "retroreflecting sheet" })).toBe("too strong");
    expect(seen({ distance: 0.5 })).toBe("too strong");
    expect(seen({ current: 0 })).not.toBe("good");
  });

  it("lets the fringes be seen to where hum is beside them", () => {
    const near = readingOf({ hum: 1.5e-3 });
    expect(near.hum!.frequency).toBe(50);
    expect(near.fringes).toBeGreaterThan(4 * near.hum!.amplitude);
    const { state, hint } = advise(near, steady, null);
    expect(state).toBe("good");
    expect(hint).toContain("Hum of 50 Hz is in it");
    // Where it drowns them, the lens is still named.
    const far = readingOf({ hum: 4e-3 });
    expect(advise(far, steady, null).state).toBe("mains hum");
    expect(advise(far, steady, null).hint).toContain("turn the lens");
    // A card in the beam: hum is no fringes.
    expect(readingOf({ hum: 4e-3, blocked: true }).signalToNoise)
      .toBeLessThan(0);
  });

  it("tells C by the height of the jumps, to a third", () => {
    // C = 1.5 at 0.1 m and goes with the distance.
    for (const c of [2, 3, 4, 6]) {
      const { feedbackParameter } = readingOf({ distance: 0.1 * c / 1.5 });
      expect(Math.abs(feedbackParameter / c - 1)).toBeLessThan(0.34);
    }
    expect(readingOf({ surface: "black card" }).feedbackParameter).toBeNaN();
  });

  it("takes a signal behind a capacitor for what it is", () => {
    const capture = simulateCapture({
      distance: (time) => 0.1 + 2e-6 * Math.sin(2 * Math.PI * 37 * time),
      samplingRate: 100e3,
      duration: 0.25,
      frontEnd: { couplingCorner: 5, voltageGain: 10 },
      noise: { white: 1e-3 },
      drive: null,
    });
    const reading = readMeter(capture);
    expect(reading.contrast).toBeNaN();
    expect(advise(reading, steady, null).state).toBe("good");
  });
});

describe("the hints", () => {
  const diode = {
    wavelength: 650e-9,
    ratedCurrent: 0.045,
    ratedPower: 5e-3,
    thresholdCurrent: 0.025,
    current: null,
  };
  const weak = {
    unit: "V",
    high: 1,
    low: 0,
    signalToNoise: 8,
    clippedAt: null,
    hum: null,
    feedbackParameter: NaN,
    contrast: 0.001,
    fringeRate: NaN,
    driven: false,
    warnings: [],
  } as unknown as LiveReading;
  const steady = { part: 1, direction: "steady" } as const;

  it("say to turn up the current only where it is known to be below the rated one", () => {
    const at = (current: number) =>
      advise(weak, steady, judgeSafety(diode, current)).hint;
    expect(at(0.035)).toContain("turn up the current, to no more than");
    for (const hint of [at(0.0445), at(0.045), at(0.06)]) {
      expect(hint).not.toContain("turn up");
      expect(hint).toContain("do not raise it");
    }
    expect(at(0.06)).toContain("turn it down now");
    // At 28.5 mA it is class 2, at the rated current class 3R.
    expect(at(0.0285)).not.toContain("turn up");
    expect(at(0.0285)).toContain("More current would make it class 3R");
    for (const safety of [null, judgeSafety(diode, NaN)]) {
      expect(advise(weak, steady, safety).hint).not.toContain("current");
    }
  });

  it("say which way to turn from how the bar goes", () => {
    const hint = (direction: "stronger" | "weaker" | "steady", part: number) =>
      advise(weak, { direction, part }, null).hint;
    expect(hint("stronger", 1)).toContain("go on turning this way");
    expect(hint("weaker", 0.9)).toContain("turn back");
    expect(hint("steady", 0.5)).toContain("turn back");
  });

  it("estimate the class at the current, and the higher of two currents counts", () => {
    // 5 mW at 45 mA above 25 mA: 1 mW at 29 mA. IEC 60825-1: class 2 to 1 mW.
    expect(judgeSafety(diode, 0.0285).laserClass).toBe("2");
    expect(judgeSafety(diode, 0.0295).laserClass).toBe("3R");
    const both = judgeSafety({ ...diode, current: 0.04 }, 0.0285);
    expect([both.current, both.laserClass]).toEqual([0.04, "3R"]);
    expect(judgeSafety(diode, NaN).laserClass).toBe("3R");
  });
});

describe("stronger or weaker", () => {
  const read = (fringes: number, level = 0.5, noise = 0.01) => ({
    fringes,
    level,
    noise,
    contrast: fringes / 2 / level,
  });

  it("goes by the last second, and a clipped signal is no best", () => {
    const strength = new Strength();
    expect(strength.push(0, read(1), true).direction).toBe("steady");
    expect(strength.push(0.2, read(1.2), true).direction).toBe("stronger");
    expect(strength.push(0.4, read(0.6), true))
      .toEqual({ part: 0.5, direction: "weaker" });
    expect(strength.push(5, read(0.6), true).direction).toBe("steady");
    // Pictures that are far apart are compared with the one before.
    expect(strength.push(9, read(0.9), true).direction).toBe("stronger");
    strength.push(5.2, read(9), false);
    expect(strength.push(5.4, read(0.6), true).part).toBe(1);
  });

  it("begins anew behind another gain, and does not follow the noise", () => {
    const strength = new Strength();
    strength.push(0, read(0.04, 0.97), true);
    // The gain goes from 0.7 to 0.5, and the lens stays.
    expect(strength.push(0.2, read(0.029, 0.69), true))
      .toEqual({ part: 1, direction: "steady" });
    const quiet = new Strength();
    quiet.push(0, read(2.6e-4, 0.5, 4e-4), true);
    for (const fringes of [4.2e-4, 2.6e-4, 4.7e-4]) {
      expect(quiet.push(0.2, read(fringes, 0.5, 4e-4), true).direction)
        .toBe("steady");
    }
  });
});

describe("a threshold", () => {
  it("does not change while the level trembles between its two values", () => {
    const threshold = new Threshold(0.6, 0.5);
    [0.4, 0.55, 0.62, 0.55, 0.58, 0.49, 0.55].forEach((value, time) =>
      threshold.push(time, value)
    );
    expect(threshold.events).toEqual([
      { time: 0, near: false },
      { time: 2, near: true },
      { time: 5, near: false },
    ]);
    expect(() => new Threshold(0.5, 0.5)).toThrow("must be below 'near'");
  });
});

describe("presence by the level", () => {
  const rate = 5000;
  const captured = (there: (time: number) => number, seed: number) => {
    let state = seed;
    return createCapture([{
      name: "a",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.from({ length: 3 * rate }, (_, i) => {
        // Park, Miller 1988: a noise that needs no library.
        state = state * 48271 % 2147483647;
        return 0.5 + there(i / rate) + 2e-3 * (state / 2147483647 - 0.5);
      }),
    }], { samplingRate: rate });
  };

  for (const change of ["rise", "fall"] as const) {
    it(`decides as findPresence does on the same samples: ${change}`, () => {
      const calibration = calibratePresence(captured(() => 0, 7), { change });
      const size = change === "rise" ? 0.01 : -0.01;
      const passing = captured(
        (time) => (time > 0.8 && time < 1.3) || time > 2.5 ? size : 0,
        11,
      );
      const presence = new LivePresence(calibration, rate, "V");
      const { samples } = passing.channels[0]!;
      for (let at = 0; at < samples.length; at += 777) {
        presence.push(
          samples.subarray(at, at + 777) as Float64Array,
          true,
        );
      }
      const { stays } = findPresence(passing, calibration);
      const expected = stays.flatMap(({ from, to, toEnd }) => [
        { time: from, near: true },
        ...(toEnd ? [] : [{ time: to, near: false }]),
      ]);
      const { averagingTime } = calibration;
      const found = presence.threshold.events.filter(({ time, near }) =>
        near || time > 0.1
      );
      expect(found.map(({ near }) => near)).toEqual([true, false, true]);
      // A stretch is known at its end, and counted from its start.
      found.forEach(({ time }, k) =>
        expect(time).toBeCloseTo(expected[k]!.time + averagingTime, 9)
      );
    });
  }
});

describe("a trigger", () => {
  it("passes once, whatever the noise about its level", () => {
    const samples = Float64Array.of(-1, -0.1, 0.1, -0.1, 0.2, 1, 0.1, -1, 1);
    expect(findPassage(samples, 0, 0.5, "rising")).toBe(2);
    expect(findPassage(samples, 0, 0.5, "rising", 3)).toBe(8);
    expect(findPassage(samples, 0, 0.5, "falling")).toBe(7);
  });

  it("starts captures at the same place of the drive, once they are good", () => {
    const ring = new SampleRing(2, 20_000);
    const taker = new CaptureTaker(
      {
        duration: 0.5,
        when: "good",
        trigger: { on: "drive", level: null, edge: "rising", before: 0 },
      },
      ring,
      1000,
      1,
    );
    const drive = (i: number) => Math.abs((i / 200) % 1 - 0.5);
    let at = 0;
    const push = () => {
      const samples = Float64Array.from({ length: 37 }, () => drive(at++));
      ring.push([samples, samples], true);
      return taker.look();
    };
    for (let k = 0; k < 30; k++) expect(push()).toBe(null);
    taker.arm(true);
    let found = null;
    for (let k = 0; k < 60 && found === null; k++) found = push();
    expect(found!.to - found!.from).toBe(500);
    // The drive rises through 1/4 at three quarters of its 200 samples.
    expect(found!.from % 200).toBe(150);
  });
});

describe("a source that does not keep to the clock", () => {
  it("tells its rate, and that it stands still", () => {
    const clock = new RateWatch();
    for (let time = 0; time < 6; time += 0.02) clock.push(1920, time);
    const { measuredRate, silence } = clock.check(8);
    expect(measuredRate / 96e3).toBeCloseTo(1, 1);
    expect(silence).toBeCloseTo(2, 1);
    // What was waiting and comes at once tells no rate.
    const file = new RateWatch();
    for (let k = 0; k < 50; k++) file.push(10_000, k * 0.001);
    for (let time = 0.1; time < 5; time += 0.1) file.push(100, time);
    expect(file.check(5).measuredRate).toBeNaN();
  });
});

describe("the trace", () => {
  it("loses nothing that sticks out", () => {
    const samples = new Float64Array(10_000);
    samples[7777] = 5;
    samples[1234] = -3;
    const { low, high } = traceColumns(samples, 100);
    expect([Math.min(...low), Math.max(...high)]).toEqual([-3, 5]);
    expect(traceColumns(new Float64Array(0), 100).low.length).toBe(1);
  });
});
