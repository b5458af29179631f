import {
  calibrateTuning,
  createCalibrationRecord,
  datasetEntry,
  datasetFolder,
  datasetTruth,
  loadDataset,
  measureDistance,
  measureVibration,
  quantity,
  rampCurrent,
  simulateCapture,
} from "fringebook";
import { compareRuns } from "fringebook/batch";
import { fitTuningTemperature, tuningAtTemperature } from "fringebook/range";
import { checkStability, compareRecords } from "fringebook/record";
import { createResult, provenance } from "fringebook/result";
import { createRandom } from "fringebook/signal";
import { join } from "@std/path";
import { saveCalibrationRecord } from "fringebook";
import { describe, expect, it } from "vitest";
import { task as chart } from "../../lib/cli/chart.ts";
import { typed } from "../cli/typed.ts";

const onDay = (day: number) => new Date(Date.UTC(2026, 8, 1 + day, 8));

describe("checkStability()", () => {
  it("gives the limits of the flow rates in the NIST handbook", () => {
    // NIST/SEMATECH e-Handbook, 6.3.2.2: mean 50.81, mean moving range 1.8778,
    // limits 55.8041 and 45.8159.
    const values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
    const chart = checkStability(
      values.map((value, k) => ({ time: onDay(k), value })),
      { unit: "1" },
    );
    expect(chart.centre.value).toBeCloseTo(50.81, 10);
    expect(chart.meanMovingRange).toBeCloseTo(1.8778, 4);
    expect(chart.upperLimit).toBeCloseTo(55.8041, 3);
    expect(chart.lowerLimit).toBeCloseTo(45.8159, 3);
    // The handbook finds the process in control; by the rule of eight too.
    expect(chart.signals.filter(({ rule }) => rule === "beyond limit"))
      .toEqual([]);
  });

  it("breaks each of its rules where they say it is broken", () => {
    // Baseline: 0, 1.128, 0, 1.128, …: deviation 1, centre 0.564.
    const base = Array.from({ length: 20 }, (_, k) => 1.128 * (k % 2));
    const rulesOf = (...more: number[]) =>
      checkStability(
        [...base, ...more.map((score) => 0.564 + score)].map((value, k) => ({
          time: onDay(k),
          value,
        })),
        { unit: "1", baseline: 20 },
      ).signals.map(({ index, rule }) => `${index - 19} ${rule}`);
    expect(rulesOf(3.1)).toEqual(["1 beyond limit"]);
    expect(rulesOf(2.1, 0.1, 2.1)).toEqual(["3 two of three"]);
    expect(rulesOf(2.1, -0.1, -2.1)).toEqual([]);
    expect(rulesOf(1.1, 1.1, 0.1, 1.1, 1.1)).toEqual(["5 four of five"]);
    // The last point of the baseline lies above the centre too.
    expect(rulesOf(...Array<number>(7).fill(0.1)))
      .toEqual(["7 eight in a row"]);
    expect(rulesOf(2.9, -1.9)).toEqual(["2 jump"]);
  });

  it("finds a drift, a bias, and scatter that the budget does not have", () => {
    const random = createRandom(4);
    const points = Array.from({ length: 24 }, (_, k) => ({
      time: onDay(k).toISOString(),
      value: 0.12 + 4e-6 * k + 20e-6 * random.normal(),
      standardUncertainty: 5e-6,
    }));
    const chart = checkStability(points.toReversed(), {
      reference: { value: 0.1199, standardUncertainty: 10e-6 },
    });
    expect(chart.diagnostics.points[0]!.day).toBe(0);
    const { drift } = chart;
    expect(Math.abs(drift.value - 4e-6)).toBeLessThan(
      drift.expandedUncertainty,
    );
    expect(drift.unit).toBe("m/d");
    const codes = chart.warnings.map(({ code }) => code);
    for (const code of ["drifts", "bias", "scatter-exceeds-uncertainty"]) {
      expect(codes).toContain(code);
    }
    expect(() => checkStability([{ time: "never", value: 1 }, ...points]))
      .toThrow("point 1 needs a time");
  });
});

/** A bench whose diode tunes by 8 pm/mA at 25 °C and 0.3 % less per kelvin. */
function calibrationAt(temperature: number, zero = 0.0063) {
  return calibrateTuning(
    [0.08, 0.16, 0.28].map((distance, k) => ({
      distance,
      standardUncertainty: 50e-6,
      capture: rampAt(temperature, distance + zero, 10 * temperature + k),
    })),
    {
      wavelength: 650e-9,
      wavelengthStandardUncertainty: 1e-9,
      thermalTimeConstant: 0,
    },
  );
}

function rampAt(temperature: number, distance: number, seed: number) {
  return simulateCapture({
    distance,
    refractiveIndex: 1.00027,
    diode: { tuning: 8e-9 * (1 - 3e-3 * (temperature - 25)) },
    current: rampCurrent({ low: 0.037, high: 0.043, frequency: 20 }),
    samplingRate: 20e3,
    duration: 0.15,
    feedbackParameter: 0.5,
    noise: { signalToNoiseRatio: 30 },
    seed,
  });
}

const at = new Map([15, 25, 35].map((each) => [each, calibrationAt(each)]));

describe("fitTuningTemperature()", () => {
  const fit = fitTuningTemperature(
    [...at].map(([temperature, calibration]) => ({
      temperature,
      temperatureStandardUncertainty: 0.1,
      calibration,
    })),
  );

  it("finds the coefficient that the diode has", () => {
    const { relativeCoefficient: found, meanTemperature } = fit;
    expect(meanTemperature).toBe(25);
    expect(Math.abs(found.value + 3e-3)).toBeLessThan(
      found.expandedUncertainty,
    );
    expect(found.expandedUncertainty).toBeLessThan(3e-4);
  });

  it("gives a tuning that measures at a temperature between, within U", () => {
    const capture = rampAt(30, 0.2063, 5);
    const { distance } = measureDistance(capture, {
      tuning: tuningAtTemperature(fit, {
        temperature: "30°C",
        temperatureStandardUncertainty: "0.1K",
      }),
    });
    expect(Math.abs(distance.value - 0.2))
      .toBeLessThan(distance.expandedUncertainty);
    expect(distance.expandedUncertainty).toBeLessThan(1e-3);
    // With the calibration at 25 °C it is 1.5 % off.
    const without = measureDistance(capture, { tuning: at.get(25)! }).distance;
    expect((without.value + 0.0063) / 0.2063).toBeCloseTo(0.985, 2);
  });

  it("says where a temperature lies beyond the calibrated ones", () => {
    const slopeAt = (temperature: number) =>
      tuningAtTemperature(fit, { temperature }).stepsPerCurrentAndDistance;
    const { warnings } = tuningAtTemperature(fit, { temperature: 50 });
    expect(warnings.map(({ code }) => code)).toContain("outside-temperature");
    expect(slopeAt(50).expandedUncertainty)
      .toBeGreaterThan(2 * slopeAt(25).expandedUncertainty);
    expect(() => fitTuningTemperature([])).toThrow("at least 3");
  });
});

describe("the sample captures at four temperatures", () => {
  const calibrationOf = async (temperature: number) => {
    const references = [];
    for (const place of ["060", "110", "160"]) {
      const name = `warm-${temperature}c-${place}mm`;
      const { value, standardUncertainty } = datasetEntry(name).known.distance!;
      const capture = await loadDataset(name);
      references.push({ capture, distance: value, standardUncertainty });
    }
    return {
      temperature,
      temperatureStandardUncertainty: 0.1,
      calibration: calibrateTuning(references, {
        wavelength: "650nm",
        wavelengthStandardUncertainty: "2nm",
      }),
    };
  };

  it("give the coefficient and a distance between, as their truth says", async () => {
    const fit = fitTuningTemperature(
      await Promise.all([15, 25, 35].map(calibrationOf)),
    );
    const { relativeCoefficient: found } = fit;
    const truth = datasetTruth("warm-30c");
    expect(Math.abs(found.value - truth.relativeCoefficient!.value))
      .toBeLessThan(found.expandedUncertainty);
    expect(found.expandedUncertainty).toBeLessThan(2e-4);
    const { distance } = measureDistance(await loadDataset("warm-30c"), {
      tuning: tuningAtTemperature(fit, {
        temperature: "30°C",
        temperatureStandardUncertainty: "0.1K",
      }),
    });
    expect(Math.abs(distance.value - truth.distance!.value))
      .toBeLessThan(distance.expandedUncertainty);
    expect(distance.expandedUncertainty).toBeLessThan(0.4e-3);
  });
});

describe("compareRecords()", () => {
  const recordOf = (
    calibration: ReturnType<typeof calibrationAt>,
    temperature: number,
    day: number,
  ) =>
    createCalibrationRecord(calibration, {
      title: "Red diode of bench 1",
      operator: "A. Student",
      calibratedAt: onDay(day).toISOString(),
      validUntil: onDay(day + 200).toISOString(),
      temperature,
    });

  it("finds a tuning that changed with the temperature, and a zero that moved", async () => {
    const [cold, warm] = [
      await recordOf(at.get(25)!, 25, 0),
      await recordOf(at.get(35)!, 35, 100),
    ];
    const comparison = compareRecords([warm, cold]);
    const [first, second] = comparison.records;
    expect(first!.change.value).toBe(0);
    expect(Math.abs(second!.change.value + 0.03))
      .toBeLessThan(second!.change.expandedUncertainty);
    expect(comparison.warnings.map(({ code }) => code))
      .toEqual(["tuning-changed"]);
    expect(comparison.warnings[0]!.message).toContain("10 K");
    expect(comparison.diagnostics.days).toEqual([0, 100]);
    const moved = compareRecords([
      cold,
      await recordOf(calibrationAt(25, 0.0073), 25, 30),
    ]);
    expect(moved.warnings.map(({ code }) => code)).toEqual(["zero-moved"]);
  });
});

describe("compareRuns()", () => {
  const run = (label: string, value: number, u: number) => ({
    label,
    setting: value,
    result: createResult({
      kind: "test.run",
      amplitude: quantity(value, u, "m"),
      warnings: [],
      provenance: provenance({ method: "test" }),
      diagnostics: {},
    }),
  });

  it("lets cancel what the runs share", () => {
    // 1 % shared, 0.1 % of its own: u² = 2 (0.1 %)² + (1 % of 0.5 %)².
    const runs = [1, 1.005].map((value, k) =>
      run(`${k}`, value, Math.hypot(0.01 * value, 0.001))
    );
    const alone = compareRuns(runs, { quantity: "amplitude" });
    expect(alone.differs).toBe(false);
    expect(alone.warnings.map(({ code }) => code)).toEqual(["nothing-shared"]);
    const shared = compareRuns(runs, {
      quantity: "amplitude",
      commonRelativeStandardUncertainty: "1%",
    });
    expect(shared.differs).toBe(true);
    expect(shared.runs[1]!.change.standardUncertainty)
      .toBeCloseTo(Math.hypot(1e-3, 1e-3, 5e-5), 9);
  });

  it("tells by how much one capture of a loudspeaker is more than another", async () => {
    const runs = [];
    for (const name of ["speaker-small", "speaker-large"]) {
      const course = await loadDataset(name);
      const { value, standardUncertainty } = datasetEntry(name).known
        .wavelength!;
      const result = measureVibration(course, {
        wavelength: value,
        wavelengthStandardUncertainty: standardUncertainty,
      });
      runs.push({ label: name, result, course });
    }
    const { runs: [, second] } = compareRuns(runs, {
      quantity: "amplitude",
      commonRelativeStandardUncertainty: 1.5 / 785,
    });
    const [small, large] = ["speaker-small", "speaker-large"].map((name) =>
      datasetTruth(name).amplitude!.value
    );
    expect(Math.abs(second!.change.value - (large! - small!)))
      .toBeLessThan(second!.change.expandedUncertainty);
    expect(second!.ratio).toBeGreaterThan(1);
  });

  it("names the quantities that there are", () => {
    const runs = [run("a", 1, 0.1), run("b", 2, 0.1)];
    expect(() => compareRuns(runs, { quantity: "speed" }))
      .toThrow("it has amplitude");
  });
});

describe("deno task chart", () => {
  it("sees on the sample table that the lens was cleaned", async () => {
    const { pathname } = new URL("check-distance.csv", datasetFolder);
    const given = [pathname, "--reference", "120mm", "--json"];
    const { code, said } = await typed(chart, ...given);
    expect(code).toBe(1);
    const { stepDay } = datasetTruth("check-distance");
    // The first point that breaks a rule: on the day, or within three after it.
    const days = said.matchAll(/2026-10-(\d\d)/g);
    const first = Math.min(...Array.from(days, ([, day]) => Number(day)));
    expect(first).toBeGreaterThanOrEqual(stepDay!.value);
    expect(first).toBeLessThan(stepDay!.value + 4);
  });

  it("charts a table, compares records and runs, and says so by its exit code", async () => {
    const folder = await Deno.makeTempDir();
    const table = join(folder, "check.csv");
    const line = (day: number, value: string) =>
      `${onDay(day).toISOString().slice(0, 10)};${value};0,02`;
    const values = ["120,01", "119,98", "120,02", "120,00", "119,99", "120,50"];
    await Deno.writeTextFile(
      table,
      [
        "date;value (mm);standard uncertainty (mm)",
        ...values.map((value, k) => line(k, value)),
      ].join("\n"),
    );
    const drawn = await typed(
      chart,
      ...[table, "--reference", "120mm", "--baseline", "5", "--json"],
    );
    expect(drawn.code).toBe(1);
    const report = JSON.parse(drawn.said);
    expect(report.headlines[0].value).toBeCloseTo(0.12, 9);
    expect(drawn.said).toContain("beyond 3 deviations");

    const files: string[] = [];
    for (const [temperature, calibration] of at) {
      const record = await createCalibrationRecord(calibration, {
        title: `Red diode at ${temperature} °C`,
        operator: "A. Student",
        calibratedAt: onDay(temperature).toISOString(),
        validUntil: onDay(300).toISOString(),
        temperature,
      });
      files.push(await saveCalibrationRecord(record, folder));
    }
    const compared = await typed(chart, ...files, "--temperature", "30°C");
    expect(compared.code).toBe(1);
    expect(compared.said).toContain("Tuning against the temperature");
    // 8 pm/mA less 1.5 %, and half a per mille of uncertainty of the line.
    const [, tuning] = /--tuning ([\d.]+)pm\/mA/.exec(compared.said)!;
    expect(Math.abs(Number(tuning) - 7.88)).toBeLessThan(0.02);

    const results = join(folder, "results.jsonl");
    await Deno.writeTextFile(
      results,
      [1e-6, 1.1e-6].map((value, k) =>
        JSON.stringify({
          file: `run-${k}.csv`,
          status: "measured",
          measurement: "motion",
          reason: null,
          reports: [{
            headlines: [{
              label: "amplitude",
              value,
              standardUncertainty: 1e-8,
              unit: "m",
            }],
          }],
          error: null,
        })
      ).join("\n"),
    );
    const runs = await typed(chart, results);
    expect(runs.code).toBe(1);
    expect(runs.said).toContain("run-1.csv");
    await Deno.remove(folder, { recursive: true });
  });
});
