/**
 * The table of wrong numbers that once came through the doors, row by row, and the
 * captures once taken for something else: each comes out right, or is refused or not
 * recognised with the reason. Arguments of the wrong kind: `sweep_test.ts`; that the
 * calibration note runs: `.ci/outside/shell.ts`; statistics: the trials beside.
 */
import { describe, expect, it } from "vitest";
import {
  calibrateTuning,
  type Capture,
  createCapture,
  type Displacement,
  loadDataset,
  measureCapture,
  measureDisplacement,
  measureDistance,
  measureResponse,
  measureRingDown,
  measureSpeed,
  measureSteps,
  measureVibration,
  parseCapture,
  printReport,
  type Quantity,
  rampCurrent,
  readCapture,
  recogniseMeasurement,
  type Result,
  simulateCapture,
} from "fringebook";
import { captureFlags, captureTask } from "../../lib/cli/capture/mod.ts";
import { task as measure } from "../../lib/cli/measure.ts";
import { readFlags } from "../../lib/cli/task/mod.ts";
import { typed } from "../cli/typed.ts";
import { plainCapture, plainWavelength } from "./plain_bench.ts";
import {
  fileInVolts,
  lopsidedMotion,
  lopsidedRamp,
  restingSpeaker,
  restingUnderSmallSine,
  restingWhileSwept,
  restingWithoutFringe,
  reversingMotor,
  ringDownAfterRest,
  ringing,
  runningSurface,
  squareDrives,
  startsMidSwing,
  swapped,
  wavedCard,
  withDrive,
} from "./cases.ts";

const wavelength = 650e-9;

const tuning = { tuning: "8pm/mA", wavelength: "650nm" };

describe("a drive channel in V", () => {
  it("is refused as a drive current, with the remedy", () => {
    expect(() =>
      parseCapture(fileInVolts(), {
        channels: { CH1: "monitor signal", CH2: "drive current" },
      })
    ).toThrow("currentPerVoltage");
  });

  it("gives the distance once it is said what a volt stands for", () => {
    const capture = parseCapture(fileInVolts(), {
      channels: {
        CH1: "monitor signal",
        CH2: { role: "drive current", currentPerVoltage: "10mA/V" },
      },
    });
    const asVoltage = parseCapture(fileInVolts(), {
      channels: { CH1: "monitor signal", CH2: "drive voltage" },
    });
    for (
      const distance of [
        measureDistance(capture, { tuning }).distance,
        measureDistance(asVoltage, { tuning, currentPerVoltage: "10mA/V" })
          .distance,
      ]
    ) {
      // 60 mm; half a per cent for a dozen steps at 30 dB.
      expect(Math.abs(distance.value / 0.06 - 1)).toBeLessThan(5e-3);
    }
  });

  it("is seen by its mean where the file says no unit", () => {
    const capture = parseCapture(fileInVolts("CH2"), {
      channels: { CH1: "monitor signal", CH2: "drive current" },
    });
    expect(() => measureSteps(capture)).toThrow(
      /averages 3\.9\d? A, more than 1 A: its scale is wrong/,
    );
  });

  it("is seen by its size where it is too small for any fringe", () => {
    const capture = parseCapture(fileInVolts("CH2 (nA)"), {
      channels: { CH1: "monitor signal", CH2: "drive current" },
    });
    expect(() => measureSteps(capture)).toThrow(/moves no fringe: its scale/);
  });

  it("is refused in a capture made in memory too", () => {
    const samples = Float64Array.from({ length: 64 }, (_, i) => i);
    const capture = createCapture([
      { name: "m", role: "monitor signal", unit: "V", samples },
      { name: "d", role: "drive current", unit: "V", samples },
    ], { samplingRate: "1kHz" });
    expect(() => measureSteps(capture)).toThrow("'currentPerVoltage'");
  });
});

describe("a wavelength or an angle in another unit", () => {
  it("is refused with what was meant", () => {
    const capture = runningSurface();
    for (const wrong of [650, "650um", "650"]) {
      for (
        const measure of [
          measureDisplacement,
          measureSpeed,
          measureVibration,
        ]
      ) {
        expect(() => measure(capture, { wavelength: wrong })).toThrow(
          'Write 650e-9 or "650nm"',
        );
      }
    }
    expect(() => measureSpeed(capture, { wavelength, angle: 78 })).toThrow(
      'Write 1.3614 or "78deg"',
    );
  });

  it("is right with its unit", () => {
    const given = { wavelength: "650nm", angle: "78deg" };
    const { speed } = measureSpeed(runningSurface(), given);
    expect(Math.abs(speed.value / 29.4e-3 - 1)).toBeLessThan(1e-4);
  });

  it("names a misspelt option", () => {
    expect(() =>
      measureSpeed(
        runningSurface(),
        // deno-lint-ignore no-explicit-any
        { wavelength, wavelengthStandardUncertanty: 2e-9 } as any,
      )
    ).toThrow("Did you mean 'wavelengthStandardUncertainty'?");
  });

  it("says that it is the speed along the beam where no angle was given", () => {
    const text = printReport(measureSpeed(runningSurface(), { wavelength }));
    expect(text).toContain("speed along the beam");
    expect(text).toMatch(/rests on .*angle 0° \(default\)/);
    expect(text).toMatch(/taken as exact +wavelength, angle, refractive index/);
  });

  it("leaves out of 'taken as exact' what has a stated uncertainty", () => {
    const measured = measureSpeed(runningSurface(), {
      wavelength,
      wavelengthStandardUncertainty: "2nm",
      angle: "78deg",
      angleStandardUncertainty: "0.5deg",
    });
    for (const format of ["text", "html", "markdown"] as const) {
      const printed = printReport(measured, { format });
      expect(printed).toContain("taken as exact");
      expect(printed).not.toMatch(/taken as exact[^,]*wavelength/);
    }
    expect(measured.provenance.inputs.map(({ name, origin }) => [name, origin]))
      .toEqual([
        ["wavelength", "stated"],
        ["angle", "stated"],
        ["refractiveIndex", "default"],
      ]);
  });
});

describe("the air", () => {
  it("is the same for motion, speed, range and the simulator", () => {
    const moving = simulateCapture({
      distance: (time) => 0.1 + 5e-6 * Math.sin(2 * Math.PI * 50 * time),
      refractiveIndex: 1.00027,
      samplingRate: 100e3,
      duration: 0.06,
      noise: { signalToNoiseRatio: 30 },
      drive: null,
    });
    const { amplitude } = measureVibration(moving, { wavelength });
    expect(Math.abs(amplitude.value - 5e-6))
      .toBeLessThan(2 * amplitude.expandedUncertainty);
    // Without air it lay 1.35 nm off: many times that.
    expect(amplitude.expandedUncertainty).toBeLessThan(0.2e-9);
    const { refractiveIndex } = measureDisplacement(moving, { wavelength })
      .provenance.options;
    expect(refractiveIndex).toBe(1.00027);
    expect(
      measureSpeed(runningSurface(), { wavelength }).provenance
        .options["refractiveIndex"],
    ).toBe(1.00027);
    const reference = (distance: number) => ({
      distance,
      standardUncertainty: 1e-5,
      capture: simulateCapture({
        distance,
        current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
        samplingRate: 10e3,
        duration: 0.2,
      }),
    });
    const calibration = calibrateTuning([reference(0.1), reference(0.2)], {
      wavelength,
      estimator: "phase slope",
    });
    expect(calibration.refractiveIndex).toBe(1.00027);
    // 8 pm/mA of the simulator's diode.
    expect(calibration.tuning.value / 8e-9).toBeCloseTo(1, 4);
  });
});

describe("measureVibration() and its like", () => {
  const capture = simulateCapture({
    distance: (time) => 0.1 + 1e-6 * Math.cos(2 * Math.PI * 100 * time),
    samplingRate: 20e3,
    duration: 0.05,
    noise: { signalToNoiseRatio: 30 },
    drive: null,
  });

  it("take a capture as well as a displacement", () => {
    const displacement = measureDisplacement(capture, { wavelength });
    expect(measureVibration(capture, { wavelength }).frequency)
      .toEqual(measureVibration(displacement).frequency);
    const swinging = { modes: 1, start: 0 } as const;
    expect(measureRingDown(capture, { wavelength, ...swinging }).modes)
      .toEqual(measureRingDown(displacement, swinging).modes);
    const driven = createCapture([...capture.channels, {
      name: "piezo",
      role: "drive voltage",
      unit: "V",
      samples: Float64Array.from(
        { length: capture.sampleCount },
        (_, i) => Math.cos(2 * Math.PI * 100 * i / 20e3),
      ),
    }], { samplingRate: 20e3 });
    const one = measureResponse(driven, { wavelength });
    expect(one.peakGain).toEqual(
      measureResponse(displacement, driven).peakGain,
    );
  });

  it("say what they take where they get something else", () => {
    expect(() => measureVibration(capture)).toThrow("'wavelength' is missing");
    const wrong: [unknown, string][] = [
      [
        undefined,
        "it takes a displacement, and got nothing: pass measureDisplacement(capture, …), or the capture with 'wavelength'",
      ],
      [
        readCapture("no.csv").catch(() => null),
        "is a Promise: write 'await readCapture(…)'",
      ],
      [{ kind: "speed.track" }, "got a result 'speed.track'"],
    ];
    for (const [given, message] of wrong) {
      // deno-lint-ignore no-explicit-any
      expect(() => measureVibration(given as any)).toThrow(message);
    }
    expect(() =>
      measureVibration(measureDisplacement(capture, { wavelength }), {
        wavelength,
      })
    ).toThrow("'wavelength' is settled by the displacement");
  });
});

describe("what is typed", () => {
  it("is refused where a unit is missing or wrong, with exit code 2", async () => {
    for (const given of ["650", "650um", "0.65"]) {
      const { code, said } = await typed(
        measure,
        ...["no.csv", "--wavelength", given],
      );
      expect(code).toBe(2);
      expect(said).toMatch(/Write .*650nm|Write .*0.65µm/);
    }
    const angle = ["no.csv", "--wavelength", "650nm", "--angle", "78"];
    expect((await typed(measure, ...angle)).said).toContain("write 78deg");
  });

  it("replaces no value of a template with 0", () => {
    const given = ["--wavelength", "650nm", "a.csv"];
    const { values } = readFlags(captureFlags, given, { task: "measure" });
    expect(Object.keys(captureTask(values, "measure").options))
      .toEqual(["wavelength"]);
  });

  it("takes a tuning without uncertainty as exact, and says so", () => {
    const given = ["--wavelength", "650nm", "--tuning", "8pm/mA", "a.csv"];
    const { values } = readFlags(captureFlags, given, { task: "measure" });
    const { options } = captureTask(values, "measure");
    const all = { ...options, wavelength, measurement: "distance" as const };
    const { results } = measureCapture(lopsidedRamp(0.3), all);
    expect(printReport(results[0]!)).toMatch(/taken as exact +tuning/);
  });
});

const measured = (capture: Capture) =>
  measureCapture(capture, { wavelength: plainWavelength });

/** Says why, and gives no number. */
function refused(capture: Capture): string {
  const { recognition, results } = measured(capture);
  expect(recognition.measurement).toBe("none");
  expect(results).toEqual([]);
  return recognition.reason;
}

/** Whether a motion was measured; its peak-to-peak value is right or doubted. */
function isRight(capture: Capture, peakToPeak: number): boolean {
  const { recognition, results } = measured(capture);
  if (results.length === 0) {
    expect(recognition.reason).not.toBe("");
    return false;
  }
  const found = results.find(({ kind }) => kind === "motion.displacement");
  const { warnings, peakToPeak: own } = found as unknown as Displacement;
  const { value, expandedUncertainty } = own;
  if (warnings.some(({ code }) => code === "release-after-rest")) {
    return true;
  }
  // Two expanded uncertainties, as several are looked at, and the bench's own steps.
  expect(Math.abs(value - peakToPeak))
    .toBeLessThan(2 * expandedUncertainty + 0.3e-9);
  return true;
}

describe("a resting target under a modulated current without a drive channel", () => {
  it("is not recognised: its fringes ride on a level that marches", () => {
    const named = restingWhileSwept().filter((capture) =>
      /ride on a level that marches/.test(refused(capture))
    );
    // Five periods are also too few to be taken for fringes, which is said then.
    expect(named.length).toBeGreaterThanOrEqual(6);
  });
  it("is not recognised under a small sine, whose level moves as little as the fringes", () => {
    for (const capture of restingUnderSmallSine()) {
      expect(refused(capture)).toMatch(/ride on a level that marches/);
    }
  });
  it("is not recognised where no fringe shows on the sine: a tone has no lean", () => {
    expect(refused(restingWithoutFringe())).toMatch(/pure tone at 900 Hz/);
  });
});

describe("light that comes and goes", () => {
  it("is no motion: a card waved slowly", () => {
    for (const capture of wavedCard()) {
      expect(refused(capture)).toMatch(/light that comes and goes|marches/);
    }
  });
  it("is no motion: a loudspeaker at rest, with noise and with hum", () => {
    restingSpeaker().forEach(refused);
  });
});

describe("a motor that reverses", () => {
  it("is a speed, also in 300 000 samples, and ends in seconds", () => {
    const { recognition, results } = measured(reversingMotor());
    expect(recognition.measurement).toBe("speed");
    expect(recognition.reason).toMatch(/turns round 6 times/);
    const track = results[0]! as unknown as Result & { highestSpeed: Quantity };
    expect(track.kind).toBe("speed.track");
    // The fastest smoothed frame: within a bin of the spectrogram, some 3 %.
    expect(Math.abs(track.highestSpeed.value / 1e-3 - 1)).toBeLessThan(0.03);
  });
});

describe("a ring-down after a rest", () => {
  it("has the frequency and the damping that it has, or is not recognised", () => {
    const { frequency, timeConstant, way } = ringing;
    // ω₀² = ω_d² + 1/τ², ζ = 1/(ω₀τ); the second extreme is a half period on.
    const natural = Math.hypot(2 * Math.PI * frequency, 1 / timeConstant);
    const fall = Math.exp(-0.5 / frequency / timeConstant);
    const found = ringDownAfterRest().filter((capture) => {
      if (!isRight(capture, way * (1 + fall))) return false;
      const [first] = measured(capture).results;
      expect(first!.kind).toBe("motion.ringDown");
      const { naturalFrequency, dampingRatio } = first as unknown as Record<
        "naturalFrequency" | "dampingRatio",
        Quantity
      >;
      expect(Math.abs(naturalFrequency.value - natural / 2 / Math.PI))
        .toBeLessThan(2 * naturalFrequency.expandedUncertainty);
      expect(Math.abs(dampingRatio.value - 1 / natural / timeConstant))
        .toBeLessThan(2 * dampingRatio.expandedUncertainty);
      return true;
    });
    expect(found.length).toBeGreaterThan(0);
  });
});

describe("a square drive", () => {
  it("is not recognised where its edges are too fast for samples or amplifier", () => {
    const benches = [
      { edge: "a tangent", samples: 3, feedback: 0.3, pole: 0.25 },
      { edge: "half a cosine", samples: 4, feedback: 0.8, pole: 1e4 },
      { edge: "a tangent", samples: 4, feedback: 0.3, pole: 0.05 },
    ].map((bench) => ({ ...bench, decibels: 30, amplitude: 2e-6 }));
    for (const { capture } of squareDrives(benches)) {
      expect(refused(capture)).toMatch(
        /driven in steps, and where they come fastest|light that comes and goes|samples each where they are fastest/,
      );
    }
  });
  it("is right, or is not recognised with the reason, where its edges can be followed", () => {
    const benches = [
      { edge: "half a cosine", samples: 14, feedback: 2.5, decibels: 20 },
      { edge: "a tangent", samples: 14, feedback: 0.8, decibels: 30 },
    ].map((bench) => ({ ...bench, amplitude: 0.8e-6, pole: 1e4 }));
    for (const { capture, peakToPeak } of squareDrives(benches)) {
      isRight(capture, peakToPeak);
    }
  });
  it("is a motion and no light-current curve, whether or not it crosses 0 V", () => {
    const [square] = squareDrives([{
      edge: "half a cosine",
      samples: 14,
      feedback: 0.8,
      decibels: 30,
      pole: 1e4,
      amplitude: 2e-6,
      withDrive: true,
    }]);
    const found = recogniseMeasurement(square!.capture);
    expect(found.measurement).toBe("motion");
    expect(found.reason).toMatch(/bursts with rests between them/);
  });
});

describe("a lopsided ramp", () => {
  it("of the current is a distance at 5 and 30 %, with the steps of theory", () => {
    for (const rise of [0.05, 0.3]) {
      const { recognition, results } = measured(lopsidedRamp(rise));
      expect(recognition.measurement).toBe("distance");
      const { steps } = results[0]! as unknown as Result & { steps: Quantity };
      // 2 n L (1/λ1 − 1/λ2) with 7 pm/mA over 6 mA.
      const ends = [0.037, 0.043].map((i) =>
        plainWavelength + 7e-9 * (i - 0.04)
      );
      const theory = 2 * 1.00027 * 0.12 * (1 / ends[0]! - 1 / ends[1]!);
      // The amplifier's pole delays by 6 µs, of 1.25 ms: 0.1 % at the fast flank.
      expect(Math.abs(steps.value / theory - 1)).toBeLessThan(2e-3);
    }
  });
  it("of the target is a motion at 5 and 30 %", () => {
    for (const rise of [0.05, 0.3]) {
      for (const seed of [0, 1, 2]) {
        const found = recogniseMeasurement(lopsidedMotion(rise, seed));
        expect(found.measurement).toBe("motion");
      }
    }
  });
});

describe("drives that hide between two samples", () => {
  const half = plainWavelength / 2 / 1.00027;
  const seen = (way: (time: number) => number, feedback: number) =>
    recogniseMeasurement(plainCapture({
      way,
      samplingRate: 20e3,
      duration: 0.25,
      feedback,
      decibels: 28,
      pole: 1,
      seed: 3,
    }));

  it("are named where a sawtooth flies back, and an even row is a speed", () => {
    for (const feedback of [0.5, 1.8]) {
      const { measurement, reason } = seen(
        (time) => 20.4 * half * (30 * time % 1),
        feedback,
      );
      expect(measurement).toBe("none");
      expect(reason).toContain("their phase leaps 7 times, every 33.3 ms");
      expect(seen((time) => 600 * half * time, feedback).measurement)
        .toBe("speed");
    }
  });

  it("are edges where a square moves by nearly whole fringes", () => {
    // By 1.01 fringes on edges of a sample and a half.
    const square = (time: number) => {
      const [part, edge] = [40 * time % 1, 0.003];
      const rises = part < edge ? part / edge : 1;
      return part < 0.5 ? rises : Math.max(0, 1 - (part - 0.5) / edge);
    };
    for (const feedback of [0.5, 1.8]) {
      const { measurement, reason } = seen(
        (time) => 1.01 * half * square(time),
        feedback,
      );
      expect(measurement).toBe("none");
      expect(reason).toContain("as where a square drives the target");
    }
  });
});

describe("a record that starts mid-swing", () => {
  it("is a vibration of the amplitude that it has", () => {
    for (const capture of startsMidSwing()) {
      const { recognition, results } = measured(capture);
      expect(recognition.measurement).toBe("motion");
      // A lasting swing is no ring-down, wherever it starts.
      expect(results[0]!.kind).toBe("motion.vibration");
      const { amplitude } = results[0]! as unknown as Result & {
        amplitude: Quantity;
      };
      // Two expanded uncertainties: three trials at 95 % each.
      expect(Math.abs(amplitude.value - 3e-6))
        .toBeLessThan(2 * amplitude.expandedUncertainty + 3e-10);
    }
  });
});

describe("two channels that are swapped", () => {
  it("are named, for a ramp and for a vibration", () => {
    for (const capture of withDrive()) {
      expect(refused(swapped(capture))).toMatch(/seem to be swapped: 'CH1'/);
      expect(recogniseMeasurement(capture).measurement).not.toBe("none");
    }
  });
});

describe("the bad capture that ships", () => {
  it("is not recognised, as its fringes are too fast for its samples", async () => {
    expect(refused(await loadDataset("bad")))
      .toMatch(/samples each where they are fastest/);
  });
});
