import {
  type Capture,
  createCapture,
  datasetEntry,
  datasetFolder,
  datasetTruth,
  findChannel,
  loadDataset,
  measureDistance,
  measureSteps,
  measureVibration,
  parseCapture,
  rampCurrent,
  recogniseMeasurement,
  simulateCapture,
} from "fringebook";
import { convertDrive, estimateJunctionSignal } from "fringebook/bench";
import { createRandom } from "fringebook/signal";
import { join } from "@std/path";
import { describe, expect, it } from "vitest";
import { task as measure } from "../../lib/cli/measure.ts";
import { typed } from "../cli/typed.ts";
import {
  count,
  counted,
  currentAt,
  generatorFrom,
  rampCapture,
  readAt,
  samplingRate,
  throughCapacitor,
  triangle,
  voltageAt,
  voltageRamp,
} from "./driven.ts";

const curve = readAt.map((current) => ({
  voltage: voltageAt(current),
  current,
}));

describe("a drive by constant voltage", () => {
  const voltage = voltageRamp();
  const capture = rampCapture(voltage.map(currentAt), voltage);

  it("becomes a current by the diode's curve, and the distance is right", () => {
    const { capture: made, currentRange } = convertDrive(capture, { curve });
    expect(findChannel(made, "drive current")!.unit).toBe("A");
    expect(currentRange.low).toBeCloseTo(0.036, 5);
    expect(currentRange.high).toBeCloseTo(0.044, 5);
    const { distance } = measureDistance(made, counted);
    // The curve between its points is good to some 0.01 %.
    expect(Math.abs(distance.value / 0.2 - 1)).toBeLessThan(1e-3);
  });

  /** Distance with its budget, by a curve of which single points are moved. */
  const moved = (
    by: number,
    point: number,
    standardUncertainty: number,
    volts = 1,
  ) =>
    measureDistance(
      convertDrive(
        rampCapture(voltage.map(currentAt), voltage.map((v) => volts * v)),
        {
          curve: curve.map((each, k) => ({
            ...each,
            current: each.current + (k === point ? by : 0),
            standardUncertainty: k === point ? standardUncertainty : 0,
          })),
          voltageScaleRelativeStandardUncertainty: 1e-3,
        },
      ).capture,
      counted,
    );
  const termOf = ({ budget }: ReturnType<typeof moved>, source: string) =>
    budget.find((line) => line.source === source)?.contribution ?? 0;

  it("has the points of the curve and the scale of the voltage in its budget, as finite differences give them", () => {
    // The points at 37 and 43 mA, 20 µA each; first order, so to a tenth.
    for (const point of [4, 6]) {
      const [above, below] = [1, -1].map((way) =>
        moved(way * 20e-6, point, 20e-6).distance.value
      );
      const difference = Math.abs(above! - below!) / 2;
      const term = termOf(
        moved(0, point, 20e-6),
        "points of the current curve",
      );
      expect(difference).toBeGreaterThan(0.5e-3);
      expect(Math.abs(term / difference - 1)).toBeLessThan(0.1);
    }
    const [above, below] = [1.001, 0.999].map((volts) =>
      moved(0, 0, 0, volts).distance.value
    );
    const term = termOf(moved(0, 0, 0), "scale of the drive voltage");
    expect(Math.abs(term / (Math.abs(above! - below!) / 2) - 1))
      .toBeLessThan(0.02);
  });

  it("takes how sure the points are from the law of a diode where it is not said", () => {
    const budgetOf = (shift: number) =>
      measureDistance(
        convertDrive(capture, {
          curve: curve.map((each, k) => ({
            ...each,
            current: each.current * (1 + shift * (k % 2 === 0 ? 1 : -1)),
          })),
        }).capture,
        counted,
      );
    const rough = budgetOf(2e-4);
    // Exact points are on the law; points that are off by 0.02 % in turns are not.
    expect(termOf(budgetOf(0), "points of the current curve"))
      .toBeLessThan(1e-9);
    const term = termOf(rough, "points of the current curve");
    expect(term).toBeGreaterThan(0.1e-3);
    expect(Math.abs(rough.distance.value - 0.2)).toBeLessThan(2 * term);
    expect(() =>
      convertDrive(capture, {
        curve: curve.map((each, k) =>
          k === 0 ? { ...each, standardUncertainty: 1e-5 } : each
        ),
      })
    ).toThrow("for all of them, or for none");
  });

  it("comes from a sweep of both as well, and is refused beyond it", () => {
    const random = createRandom(2);
    const swept = Float64Array.from(
      { length: 3000 },
      (_, i) => 0.02 + 0.03 * i / 3000,
    );
    const sweep = createCapture([
      {
        name: "V",
        role: "drive voltage",
        unit: "V",
        samples: swept.map(voltageAt),
      },
      {
        name: "I",
        role: "drive current",
        unit: "A",
        samples: swept.map((i) => i + 5e-6 * random.normal()),
      },
    ], { samplingRate: 100 });
    const { distance } = measureDistance(
      convertDrive(capture, { curve: sweep }).capture,
      counted,
    );
    expect(Math.abs(distance.value / 0.2 - 1)).toBeLessThan(3e-3);
    expect(() => convertDrive(capture, { curve: curve.slice(4) }))
      .toThrow("never beyond the rated current");
    expect(() => convertDrive(capture, {})).toThrow("neither was given");
  });
});

describe("a modulation through a capacitor", () => {
  const corner = 12;
  const generator = generatorFrom(0.1);
  const current = throughCapacitor(generator, corner);
  const capture = rampCapture(current, generator);
  const options = { currentPerVoltage: "5mA/V", currentOffset: "40mA" };

  it("has its corner found from the power, with phase and part that gets through", () => {
    const drive = convertDrive(capture, { ...options, couplingCorner: "find" });
    const found = drive.couplingCorner!;
    expect(Math.abs(found.value - corner))
      .toBeLessThan(3 * found.standardUncertainty);
    expect(found.standardUncertainty).toBeLessThan(0.5);
    // arctan(12/25) = 25.6°, 25/√(25² + 12²) = 0.9015.
    expect(Math.abs(drive.phase!.value * 180 / Math.PI - 25.64))
      .toBeLessThan(1);
    expect(drive.transmission).toBeCloseTo(0.9015, 1);
    let worst = 0;
    drive.diagnostics.current.forEach((value, i) => {
      worst = Math.max(worst, Math.abs(value - current[i]!));
    });
    // Of 10 mA.
    expect(worst).toBeLessThan(0.1e-3);
    const { distance } = measureDistance(drive.capture, counted);
    expect(Math.abs(distance.value / 0.2 - 1)).toBeLessThan(5e-3);
  });

  it("is a sixth smaller than one without, and a corner that is given will do", () => {
    const naive = convertDrive(capture, options);
    const span = ({ low, high }: { low: number; high: number }) => high - low;
    const passed = convertDrive(capture, {
      ...options,
      couplingCorner: "12Hz",
    });
    // A triangle of period T behind a time constant τ = 1/(2π f_c), worked out by
    // hand: (4 τ/T) tanh(T/4τ) of its height, here 0.8455.
    const [period, time] = [1 / 25, 1 / (2 * Math.PI * corner)];
    const left = 4 * time / period * Math.tanh(period / 4 / time);
    expect(left).toBeCloseTo(0.8455, 4);
    expect(span(passed.currentRange) / span(naive.currentRange))
      .toBeCloseTo(left, 3);
    const right = measureDistance(passed.capture, counted).distance;
    expect(Math.abs(right.value / 0.2 - 1)).toBeLessThan(1e-3);
  });

  it("has its corner in the budget of the distance, as finite differences give it", () => {
    const given = (couplingCorner: number) =>
      measureDistance(
        convertDrive(capture, {
          ...options,
          couplingCorner,
          couplingCornerStandardUncertainty: "0.3Hz",
        }).capture,
        counted,
      );
    const { budget } = given(12);
    const term = budget.find(({ source }) =>
      source === "corner of the drive's capacitor"
    )!;
    const difference = (given(12.3).distance.value -
      given(11.7).distance.value) / 2;
    expect(difference).toBeGreaterThan(1e-3);
    expect(Math.abs(term.contribution / difference - 1)).toBeLessThan(0.05);
  });

  it("is counted right where the current bends and turns at a corner", () => {
    // Lines through the middles of such strokes meet a tenth of one too early.
    const slow = convertDrive(
      rampCapture(throughCapacitor(generator, 6.5), generator),
      { ...options, couplingCorner: 6.5 },
    );
    const { distance } = measureDistance(slow.capture, counted);
    expect(Math.abs(distance.value / 0.2 - 1)).toBeLessThan(1e-4);
  });
});

describe("the drives of the simulated bench", () => {
  const standsAt = (name: string, capture: Capture) => {
    const { known, truth } = datasetEntry(name);
    const { distance } = measureDistance(capture, {
      tuning: { tuning: known.tuning!, wavelength: known.wavelength! },
      estimator: "phase slope",
    });
    // One seeded case: within 3 standard uncertainties.
    expect(Math.abs(distance.value - truth.distance!.value))
      .toBeLessThan(3 * distance.standardUncertainty);
  };

  it("give the distance by the curve of two meters", async () => {
    const text = await Deno.readTextFile(
      new URL("voltage-drive-curve.csv", datasetFolder),
    );
    const curve = text.trim().split("\n").slice(1).map((line) => {
      const [voltage, milliamperes] = line.split(",").map(Number);
      return { voltage: voltage!, current: milliamperes! / 1000 };
    });
    const { capture, currentRange } = convertDrive(
      await loadDataset("voltage-drive"),
      { curve },
    );
    const { lowestCurrent, highestCurrent } = datasetTruth("voltage-drive");
    // Noise and steps of the scope: 50 µV over 5.3 Ω, at the ends of a ramp.
    expect(Math.abs(currentRange.low - lowestCurrent!.value))
      .toBeLessThan(4e-5);
    expect(Math.abs(currentRange.high - highestCurrent!.value))
      .toBeLessThan(4e-5);
    standsAt("voltage-drive", capture);
  });

  it("give the distance behind a capacitor, and its corner", async () => {
    const { currentPerVoltage, operatingCurrent } =
      datasetEntry("capacitor-drive").known;
    const { capture, couplingCorner } = convertDrive(
      await loadDataset("capacitor-drive"),
      {
        currentPerVoltage: currentPerVoltage!.value,
        currentOffset: operatingCurrent!.value,
        couplingCorner: "find",
      },
    );
    const { value, standardUncertainty } = couplingCorner!;
    const truth = datasetTruth("capacitor-drive").couplingCorner!.value;
    expect(Math.abs(value - truth)).toBeLessThan(3 * standardUncertainty);
    standsAt("capacitor-drive", capture);
  });
});

describe("a drive that was not recorded", () => {
  const capture = simulateCapture({
    distance: 0.12,
    refractiveIndex: 1.00027,
    current: rampCurrent({
      low: 0.036,
      high: 0.044,
      frequency: 25.25,
      start: 0.3,
    }),
    samplingRate: 50e3,
    duration: 0.3,
    feedbackParameter: 0.8,
    noise: { signalToNoiseRatio: 30 },
    drive: null,
    seed: 4,
  });
  const stated = (frequency: number, start?: number) =>
    measureSteps(capture, {
      estimator: "phase slope",
      drive: {
        shape: "triangle",
        frequency,
        low: 0.036,
        high: 0.044,
        ...(start === undefined ? {} : { start }),
      },
    });

  it("is stated by a knob that is 1 % off: the power's own frequency counts", () => {
    // N = 2 n L Δλ/λ² = 2 · 1.00027 · 0.12 · 64e-12/650e-9², worked out by hand,
    // and 0.3 per cent of a per cent for the wavelength's own change.
    const right = stated(25.25);
    const found = stated(25);
    expect(Math.abs(right.steps.value - 36.365)).toBeLessThan(2e-3);
    expect(Math.abs(found.steps.value - 36.365)).toBeLessThan(2e-3);
    const codes = (steps: typeof found) =>
      steps.warnings.map(({ code }) => code);
    expect(codes(found)).toContain("drive-frequency-found");
    expect(codes(right)).not.toContain("drive-frequency-found");
    expect(codes(stated(25, 0.3))).toContain("drive-frequency-differs");
  });
});

describe("the junction voltage as the signal", () => {
  const vibrating = simulateCapture({
    distance: (t) => 0.1 + 1.3e-6 * Math.sin(2 * Math.PI * 87 * t) + 2e-5 * t,
    samplingRate,
    duration: 0.03,
    feedbackParameter: 1.3,
    noise: { signalToNoiseRatio: 30 },
    drive: null,
    seed: 2,
  });
  const monitor = vibrating.channels[0]!;
  let mean = 0;
  for (const value of monitor.samples) mean += value / monitor.samples.length;
  const volts = Float64Array.from(
    monitor.samples,
    (value) => -1e-3 * (value - mean),
  );

  it("is recognised by its name and gives the same motion, direction included", () => {
    const text = ["time (s),junction voltage (mV)"];
    volts.forEach((value, i) =>
      text.push(`${i / samplingRate},${(1e3 * value).toPrecision(7)}`)
    );
    const capture = parseCapture(
      new TextEncoder().encode(text.join("\n") + "\n"),
    );
    expect(capture.channels[0]!.role).toBe("junction voltage");
    expect(capture.warnings.map(({ code }) => code))
      .toContain("junction-signal");
    expect(recogniseMeasurement(capture).measurement).toBe("motion");
    const ends = [capture, vibrating].map((each) =>
      measureVibration(each, { wavelength: "650nm" })
    );
    // Seven digits of each sample are kept.
    expect(ends[0]!.amplitude.value / ends[1]!.amplitude.value)
      .toBeCloseTo(1, 5);
    // The drift of 20 µm/s recedes: the sign of the fringes is right.
    expect(Math.abs(ends[0]!.drift.value - 2e-5)).toBeLessThan(2e-7);
  });

  it("counts the steps of a ramp on which the voltage itself rises", () => {
    const current = Float64Array.from(
      { length: count },
      (_, i) => 0.04 + 0.004 * triangle(25 * i / samplingRate + 0.1),
    );
    const flat = rampCapture(current, current);
    const smooth = simulateCapture({
      distance: 0.2,
      current,
      samplingRate,
      modulationIndex: 1e-12,
      drive: null,
    }).channels[0]!.samples;
    const samples = flat.channels[0]!.samples.map((value, i) =>
      1.9 + 3 * (current[i]! - 0.04) - 1e-3 * (value - smooth[i]!)
    );
    const capture = createCapture([
      { name: "CH1", role: "junction voltage", unit: "V", samples },
      { name: "CH2", role: "drive current", unit: "A", samples: current },
    ], { samplingRate });
    const { steps, leanKnown } = measureSteps(capture);
    // N = 2 n L Δλ/λ² = 2 · 1.00027 · 0.2 · 64e-12/650e-9² = 60.61.
    expect(Math.abs(steps.value - 60.61)).toBeLessThan(0.05);
    expect(leanKnown).toBe(true);
  });
});

describe("estimateJunctionSignal()", () => {
  it("has what the rate equations give where their losses change", () => {
    // dN/dt = J - N/τs - G (N - N0) S = 0 and G (N - N0) = 1/τp, all in units of
    // the threshold: solved here with the losses and with 0.1 % less.
    const [ratio, transparency] = [40 / 24.2, 0.5];
    const solve = (loss: number) => {
      const carriers = transparency + (1 - transparency) * loss;
      return { carriers, light: (ratio - carriers) / loss };
    };
    const [before, after] = [solve(1), solve(0.999)];
    const modulation = after.light / before.light - 1;
    // 2 kT/e at 25 °C: 51.385 mV (CODATA 2018).
    const volts = 51.385e-3 * Math.log(after.carriers / before.carriers);
    expect(volts).toBeLessThan(0);
    const { amplitude } = estimateJunctionSignal({
      operatingCurrent: "40mA",
      thresholdCurrent: "24.2mA",
      modulationIndex: modulation,
      gainPart: 1 - transparency,
      sourceResistance: 1e9,
    });
    expect(amplitude.value / -volts).toBeCloseTo(1, 2);
  });

  it("has the noise of an amplifier and of a photodiode, and says what a stiff drive takes", () => {
    const diode = { operatingCurrent: "40mA", thresholdCurrent: "24mA" };
    const signal = estimateJunctionSignal(diode);
    // 5 nV/√Hz in 100 kHz: 1.58 µV; the junction's 5 Ω add 0.09 µV.
    expect(signal.noise * 1e6).toBeCloseTo(1.58, 1);
    // 2 e 100 µA + 4kT/100 kΩ in 100 kHz: 1.83 nA.
    expect(signal.monitorNoise * 1e9).toBeCloseTo(1.83, 1);
    expect(signal.monitorSignalToNoise).toBeGreaterThan(signal.signalToNoise);
    const stiff = estimateJunctionSignal({ ...diode, sourceResistance: "1Ω" });
    expect(stiff.loading).toBeCloseTo(1 / 6, 9);
    expect(stiff.warnings.map(({ code }) => code)).toContain("loaded");
    expect(() => estimateJunctionSignal({ ...diode, operatingCurrent: "20mA" }))
      .toThrow("above its threshold");
  });
});

describe("deno task measure with another drive", () => {
  it("takes a curve, a capacitor and a junction voltage of files that name CH1 and CH2 in volts", async () => {
    const folder = await Deno.makeTempDir();
    const [low, high] = [voltageAt(0.036), voltageAt(0.044)];
    const voltage = Float64Array.from(
      { length: count },
      (_, i) =>
        (low + high) / 2 + (high - low) / 2 * triangle(25 * i / samplingRate),
    );
    const capture = rampCapture(voltage.map(currentAt), voltage);
    const file = join(folder, "scope.csv");
    const [first, second] = capture.channels.map(({ samples }) => samples);
    await Deno.writeTextFile(
      file,
      "time (s),CH1 (V),CH2 (V)\n" + Array.from(
        first!,
        (value, i) =>
          `${i / samplingRate},${value.toFixed(6)},${second![i]!.toFixed(6)}`,
      ).join("\n"),
    );
    const table = join(folder, "curve.csv");
    await Deno.writeTextFile(
      table,
      "voltage (V),current (mA)\n" +
        curve.map(({ voltage, current }) =>
          `${voltage.toFixed(6)},${(1e3 * current).toFixed(3)}`
        ).join("\n"),
    );
    const asked = [
      ...[file, "--wavelength", "650nm", "--tuning", "8pm/mA", "--json"],
      ...["--monitor", "1", "--drive", "2", "--count-by", "phase-slope"],
    ];
    const distanceOf = (said: string) =>
      JSON.parse(said).reports[1].headlines[0].value as number;
    const { code, said } = await typed(
      measure,
      ...asked,
      ...["--current-curve", table],
    );
    expect(code).toBe(0);
    expect(Math.abs(distanceOf(said) / 0.2 - 1)).toBeLessThan(2e-3);
    // How sure the curve is: its scale, and each of its points. 1 % of the 1.9 V
    // of this diode moves the slope of the current by a part of the same size.
    const uncertaintyOf = (said: string) =>
      JSON.parse(said).reports[1].headlines[0].standardUncertainty as number;
    const unsure = await typed(
      measure,
      ...[...asked, "--current-curve", table],
      ...["--voltage-scale-uncertainty", "1%"],
    );
    expect(distanceOf(unsure.said)).toBe(distanceOf(said));
    expect(uncertaintyOf(unsure.said)).toBeGreaterThan(
      Math.hypot(uncertaintyOf(said), 0.005 * 0.2),
    );
    const pointed = join(folder, "pointed.csv");
    const [heads, ...lines] = (await Deno.readTextFile(table)).split("\n");
    await Deno.writeTextFile(
      pointed,
      [
        `${heads},standard uncertainty (mA)`,
        ...lines.map((line) => `${line},0.2`),
      ].join("\n"),
    );
    const points = await typed(measure, ...asked, "--current-curve", pointed);
    expect(uncertaintyOf(points.said)).toBeGreaterThan(2 * uncertaintyOf(said));
    for (
      const [flag, value] of [
        ["--voltage-scale-uncertainty", "1%"],
        ["--drive-corner-uncertainty", "1Hz"],
      ] as const
    ) {
      const alone = await typed(measure, ...asked, flag, value);
      expect(alone.code).toBe(2);
      expect(alone.said).toContain(`with '${flag}' as it needs`);
    }
    const none = await typed(measure, ...asked, "--drive-corner", "find");
    expect(none.said).toContain("needs '--current-per-voltage'");
    const both = await typed(
      measure,
      ...asked,
      ...["--junction", "1", "--current-per-voltage", "10mA/V"],
    );
    expect(both.said).toContain("one of them carries the fringes");
    await Deno.remove(folder, { recursive: true });
  });
});
