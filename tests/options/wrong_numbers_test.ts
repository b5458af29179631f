import { describe, expect, it } from "vitest";
import {
  calibrateTuning,
  createCapture,
  measureDisplacement,
  measureDistance,
  measureResponse,
  measureRingDown,
  measureSpeed,
  measureSteps,
  measureVibration,
  parseCapture,
  printReport,
  rampCurrent,
  readCapture,
  simulateCapture,
} from "fringebook";

// Our own benches, simulated with known truth; the table is that of numbers
// that once came out wrong with a small uncertainty and no warning.
const wavelength = 650e-9;

/** A ramp at 60 mm as a file: the drive recorded in V, 10 mA/V. */
function fileInVolts(heading = "CH2 (V)"): Uint8Array {
  const made = simulateCapture({
    distance: 0.06,
    current: rampCurrent({ low: 0.034, high: 0.044, frequency: 10 }),
    samplingRate: 20e3,
    duration: 0.2,
    noise: { signalToNoiseRatio: 30 },
  });
  const [monitor, drive] = made.channels;
  const rows = Array.from(
    monitor!.samples,
    (value, i) =>
      `${i / 20e3},${value.toFixed(7)},${
        (drive!.samples[i]! / 0.01).toFixed(7)
      }`,
  );
  return new TextEncoder().encode(
    `time (s),CH1 (V),${heading}\n${rows.join("\n")}\n`,
  );
}

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

  it("is refused in a capture made in memory too", () => {
    const samples = Float64Array.from({ length: 64 }, (_, i) => i);
    const capture = createCapture([
      { name: "m", role: "monitor signal", unit: "V", samples },
      { name: "d", role: "drive current", unit: "V", samples },
    ], { samplingRate: "1kHz" });
    expect(() => measureSteps(capture)).toThrow("'currentPerVoltage'");
  });
});

/** A surface that runs with 29.4 mm/s under 78°. */
function runningSurface() {
  const along = 29.4e-3 * Math.cos(78 * Math.PI / 180);
  return simulateCapture({
    distance: (time) => 0.1 + along * time,
    samplingRate: 200e3,
    duration: 0.05,
    feedbackParameter: 0.7,
    noise: { signalToNoiseRatio: 20 },
    drive: null,
  });
}

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
    const { speed } = measureSpeed(runningSurface(), {
      wavelength: "650nm",
      angle: "78deg",
    });
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
