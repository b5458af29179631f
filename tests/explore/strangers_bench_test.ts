import { describe, expect, it } from "vitest";
import {
  type Capture,
  createCapture,
  loadDataset,
  measureCapture,
  recogniseMeasurement,
} from "fringebook";
import {
  plainCapture,
  plainNormal,
  plainWavelength,
  triangle,
} from "./plain_bench.ts";

/**
 * Captures of a bench that shares no line with the library (`plain_bench.ts`): each
 * must come out right, or be not recognised with the reason. Larger statistics stand
 * in `strangers_bench_trial.ts`.
 */
const measured = (capture: Capture) =>
  measureCapture(capture, { wavelength: plainWavelength });
const sine = (turns: number) => Math.sin(2 * Math.PI * turns);

/** Says why, and gives no number. */
function refused(capture: Capture): string {
  const { recognition, results } = measured(capture);
  expect(recognition.measurement).toBe("none");
  expect(results).toEqual([]);
  return recognition.reason;
}

describe("a resting target under a modulated current without a drive channel", () => {
  it("is not recognised: its fringes ride on a level that marches", () => {
    const forms = [
      (turns: number) => triangle(turns),
      sine,
      (turns: number) => triangle(turns, 0.05),
      (turns: number) => triangle(turns, 0.3),
    ];
    let named = 0;
    for (const [seed, form] of forms.entries()) {
      for (const coupling of [0, 5]) {
        const capture = plainCapture({
          samplingRate: 50e3,
          duration: 0.1,
          distance: [0.11, 0.3, 0.2, 0.15][seed]!,
          current: (t) => 0.04 + 0.003 * form(47 * t + 0.13),
          feedback: [0.3, 1.5, 0.8, 2.5][seed]!,
          coupling,
          seed: seed + 1,
        });
        if (/ride on a level that marches/.test(refused(capture))) named++;
      }
    }
    // Five periods are also too few to be taken for fringes, which is said then.
    expect(named).toBeGreaterThanOrEqual(6);
  });
  it("is not recognised under a small sine, whose level moves as little as the fringes", () => {
    for (const [i, frequency] of [200, 500].entries()) {
      const capture = plainCapture({
        samplingRate: 50e3,
        duration: 0.1,
        distance: 0.2,
        current: (t) => 0.04 + 0.0002 * sine(frequency * t + 0.1),
        feedback: [0.3, 1.5][i]!,
        seed: i + 1,
      });
      expect(refused(capture)).toMatch(/ride on a level that marches/);
    }
  });
  it("is not recognised where no fringe shows on the sine: a tone has no lean", () => {
    const capture = plainCapture({
      samplingRate: 50e3,
      duration: 0.1,
      distance: 0.005,
      current: (t) => 0.04 + 0.0005 * sine(900 * t),
      visibility: 1e-5,
      decibels: -30,
    });
    expect(refused(capture)).toMatch(/pure tone at 900 Hz/);
  });
});

describe("light that comes and goes", () => {
  it("is no motion: a card waved slowly", () => {
    for (const [seed, rate] of [1.3, 2.1, 4].entries()) {
      const capture = plainCapture({
        samplingRate: 5e3,
        duration: 4,
        feedback: 0.1,
        visibility: 0.001,
        decibels: 0,
        stray: (t) =>
          0.1 * sine(rate * t) + 0.06 * sine(0.7 * t) + 0.03 * sine(5.3 * t),
        seed: seed + 1,
      });
      expect(refused(capture)).toMatch(/light that comes and goes|marches/);
    }
  });
  it("is no motion: a loudspeaker at rest, with noise and with hum", () => {
    for (const seed of [1, 2, 3]) {
      const noise = plainNormal(seed);
      const still = plainCapture({
        samplingRate: 20e3,
        duration: 0.5,
        decibels: 20,
        way: (t) => 30e-9 * sine(11 * t) + 20e-9 * sine(3 * t),
        coupling: 2,
        drive: {
          role: "drive voltage",
          unit: "V",
          value: () => 1e-3 * noise(),
        },
        seed,
      });
      refused(still);
      refused(plainCapture({
        samplingRate: 20e3,
        duration: 0.5,
        visibility: 1e-4,
        decibels: 0,
        stray: (t) => 1e-3 * sine(50 * t + seed / 7) + 2e-4 * sine(150 * t),
        seed,
      }));
    }
  });
});

describe("a motor that reverses", () => {
  it("is a speed, also in 300 000 samples, and ends in seconds", () => {
    let [way, last] = [0, 0];
    const capture = plainCapture({
      samplingRate: 100e3,
      duration: 3,
      // Runs at 1 mm/s and turns within some 50 ms.
      way: (t) => {
        way += 1e-3 * Math.tanh(5 * sine(1.1 * t + 0.1)) * (t - last);
        last = t;
        return way;
      },
      feedback: 0.8,
      decibels: 25,
    });
    const { recognition, results } = measured(capture);
    expect(recognition.measurement).toBe("speed");
    expect(recognition.reason).toMatch(/turn round 6 times/);
    const track = results[0]!;
    expect(track.kind).toBe("speed.track");
    const { highestSpeed } = track as unknown as {
      highestSpeed: { value: number };
    };
    // The fastest smoothed frame: within a bin of the spectrogram, some 3 %.
    expect(Math.abs(highestSpeed.value / 1e-3 - 1)).toBeLessThan(0.03);
  });
});

describe("a motion that is no sine", () => {
  const kindOf = (capture: Capture) => recogniseMeasurement(capture);
  it("is a motion where it rings down after a rest", () => {
    for (const [seed, release] of [0.05, 0.1, 0.15].entries()) {
      const found = kindOf(plainCapture({
        samplingRate: 50e3,
        duration: 0.3,
        way: (t) => {
          const since = t - release;
          return since < 0
            ? 3e-6
            : 3e-6 * Math.exp(-since / 0.05) * Math.cos(880 * since);
        },
        feedback: [0.3, 1.5, 0.8][seed]!,
        seed: seed + 1,
      }));
      expect(found.measurement).toBe("motion");
    }
  });
  it("is a motion under a square drive from 0 to 5 V: no light-current curve", () => {
    for (const [seed, low] of [0, -1].entries()) {
      const found = kindOf(plainCapture({
        samplingRate: 100e3,
        duration: 0.2,
        way: (t) => 2e-6 * Math.tanh(20 * sine(20 * t + 0.05)),
        feedback: [0.3, 0.8][seed]!,
        drive: {
          role: "drive voltage",
          unit: "V",
          value: (t) => sine(20 * t + 0.05) > 0 ? 5 : 5 * low,
        },
        seed: seed + 1,
      }));
      expect(found.measurement).toBe("motion");
    }
  });
  it("is a motion where it goes slowly one way and fast back", () => {
    for (const rise of [0.05, 0.3]) {
      for (const [seed, feedback] of [0.3, 0.8, 1.5].entries()) {
        const found = kindOf(plainCapture({
          samplingRate: 200e3,
          duration: 0.2,
          way: (t) => 3e-6 * triangle(20 * t + 0.1 * seed, rise),
          feedback,
          seed: seed + 1,
        }));
        expect(found.measurement).toBe("motion");
      }
    }
  });
  it("is measured where the record starts mid-swing", () => {
    for (const [seed, start] of [1, 2, 3.5].entries()) {
      const swing = (t: number) => 3e-6 * Math.sin(547 * t + start);
      const capture = plainCapture({
        samplingRate: 100e3,
        duration: 0.026,
        way: swing,
        feedback: 0.7,
        seed: seed + 1,
      });
      const { recognition, results } = measured(capture);
      expect(recognition.measurement).toBe("motion");
      // A lasting swing is no ring-down, wherever it starts.
      expect(results[0]!.kind).toBe("motion.vibration");
      const { amplitude } = results[0]! as unknown as {
        amplitude: { value: number; expandedUncertainty: number };
      };
      // Two expanded uncertainties: three trials at 95 % each.
      expect(Math.abs(amplitude.value - 3e-6)).toBeLessThan(
        2 * amplitude.expandedUncertainty + 3e-10,
      );
    }
  });
});

describe("a lopsided current ramp with its drive", () => {
  it("is a distance at 5 and 30 % rise, with the steps of theory", () => {
    for (const rise of [0.05, 0.3]) {
      const current = (t: number) => 0.04 + 0.003 * triangle(40 * t, rise);
      const { recognition, results } = measured(plainCapture({
        samplingRate: 100e3,
        duration: 0.1,
        distance: 0.12,
        current,
        drive: { role: "drive current", unit: "A", value: current },
        feedback: 0.8,
      }));
      expect(recognition.measurement).toBe("distance");
      const { steps } = results[0]! as unknown as { steps: { value: number } };
      // 2 n L (1/λ1 − 1/λ2) with 7 pm/mA over 6 mA.
      const ends = [0.037, 0.043].map((i) =>
        plainWavelength + 7e-9 * (i - 0.04)
      );
      const theory = 2 * 1.00027 * 0.12 * (1 / ends[0]! - 1 / ends[1]!);
      // The amplifier's pole delays by 6 µs, of 1.25 ms: 0.1 % at the fast flank.
      expect(Math.abs(steps.value / theory - 1)).toBeLessThan(2e-3);
    }
  });
});

describe("two channels that are swapped", () => {
  const swapped = (capture: Capture) => {
    const [monitor, drive] = capture.channels;
    return createCapture([
      { ...drive!, role: "monitor signal" },
      { ...monitor!, role: drive!.role },
    ], { samplingRate: capture.samplingRate });
  };
  it("are named, for a ramp and for a vibration", () => {
    const ramp = (t: number) => 0.04 + 0.003 * triangle(20 * t + 0.1);
    const both = [
      plainCapture({
        samplingRate: 50e3,
        duration: 0.2,
        distance: 0.2,
        current: ramp,
        drive: { role: "drive current", unit: "A", value: ramp },
      }),
      plainCapture({
        samplingRate: 50e3,
        duration: 0.2,
        way: (t) => 3e-6 * sine(47 * t),
        drive: {
          role: "drive voltage",
          unit: "V",
          value: (t) => 0.5 * sine(47 * t + 0.3),
        },
      }),
    ];
    for (const capture of both) {
      expect(refused(swapped(capture))).toMatch(/seem to be swapped: 'CH1'/);
      expect(recogniseMeasurement(capture).measurement).not.toBe("none");
    }
  });
});

describe("the bad capture that ships", () => {
  it("is not recognised, as its fringes are too fast for its samples", async () => {
    const { recognition, results } = measureCapture(await loadDataset("bad"), {
      wavelength: 650e-9,
    });
    expect(results).toEqual([]);
    expect(recognition.reason).toMatch(/samples each where they are fastest/);
  });
});
