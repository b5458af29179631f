import { describe, expect, it } from "vitest";
import {
  checkDiode,
  datasetEntry,
  datasetNames,
  datasetTruth,
  fitCharacteristicTemperature,
  type LightCurrentSweep,
  loadDataset,
  quantity,
} from "fringebook";
import { createRandom } from "fringebook/signal";
import { makeSweep } from "./sweeps.ts";

const column = (length: number, value: (i: number) => number) =>
  Float64Array.from({ length }, (_, i) => value(i));

describe("checkDiode() on sweeps with known truth", () => {
  it("finds threshold, slope and responsivity of the simulated bench", async () => {
    for (const name of datasetNames("light-current")) {
      const truth = datasetTruth(name);
      const check = checkDiode(await loadDataset(name));
      const agree = (
        key: string,
        quantity: { value: number; expandedUncertainty: number },
      ) =>
        expect(Math.abs(quantity.value - truth[key]!.value))
          .toBeLessThan(quantity.expandedUncertainty);
      agree("thresholdCurrent", check.thresholdCurrent);
      agree("thresholdCurrent", check.thresholdBySecondDerivative);
      agree("slopeEfficiency", check.slopeEfficiency);
      agree("monitorResponsivity", check.monitorResponsivity);
      // The bench's thresholds are known to better than 1 %.
      expect(check.thresholdCurrent.expandedUncertainty)
        .toBeLessThan(0.02 * check.thresholdCurrent.value);
    }
  });

  it("finds the mode hop and keeps the ramp away from it", async () => {
    const check = checkDiode(await loadDataset("light-current-25c"), {
      ratedCurrent: 0.05,
    });
    const hop = datasetTruth("light-current-25c").kinkCurrent!.value;
    expect(check.excludedBands.length).toBe(1);
    const [band] = check.excludedBands;
    expect(band!.low).toBeLessThan(hop);
    expect(band!.high).toBeGreaterThan(hop);
    const { ramp, current } = check.operatingPoint!;
    expect(ramp.high).toBeLessThan(hop);
    expect(ramp.low).toBeGreaterThan(check.thresholdCurrent.value);
    expect(ramp.high).toBeLessThan(0.045 + 1e-9);
    expect(current).toBeCloseTo((ramp.low + ramp.high) / 2, 12);
  });

  it("agrees with both methods on 40 noisy sweeps", () => {
    let [lines, second] = [0, 0];
    for (let seed = 1; seed <= 40; seed++) {
      const check = checkDiode(makeSweep({ seed }), {
        currentRelativeStandardUncertainty: 0,
      });
      const inside = (q: { value: number; expandedUncertainty: number }) =>
        Number(Math.abs(q.value - 0.025) <= q.expandedUncertainty);
      lines += inside(check.thresholdCurrent);
      second += inside(check.thresholdBySecondDerivative);
    }
    // 95 % of 40 are 38; fewer than 33 has a probability below 0.2 %.
    expect(lines).toBeGreaterThanOrEqual(33);
    expect(second).toBeGreaterThanOrEqual(33);
  });

  it("is not moved by an upper line that bends (thermal roll-over)", () => {
    for (const rollOver of [1, 3]) {
      const check = checkDiode(makeSweep({ rollOver }), {
        currentRelativeStandardUncertainty: 0,
      });
      // 3 W/A² of bend take 25 % of the slope at the end of the sweep.
      expect(Math.abs(check.thresholdCurrent.value - 0.025))
        .toBeLessThan(check.thresholdCurrent.expandedUncertainty);
      expect(check.thresholdCurrent.expandedUncertainty)
        .toBeLessThan(0.02 * 0.025);
    }
  });

  it("finds the threshold from the monitor alone", () => {
    const check = checkDiode({ ...makeSweep(), power: null });
    expect(check.state).toBe("laser diode with monitor");
    expect(check.diagnostics.signal).toBe("monitor");
    expect(check.thresholdCurrent.value).toBeCloseTo(0.025, 4);
    // 0.01 A/W of 0.304 W/A.
    expect(check.monitorSlope.value).toBeCloseTo(0.00304, 4);
    expect(check.slopeEfficiency.value).toBeNaN();
    expect(check.monitorResponsivity.value).toBeNaN();
  });

  it("gives the differential efficiency (dP/dI) eλ/(hc)", () => {
    // hc/e = 1239.842 eV nm: 0.304 W/A at 650 nm are 0.1594.
    const check = checkDiode(makeSweep(), { wavelength: 650e-9 });
    expect(check.differentialEfficiency.value)
      .toBeCloseTo(check.slopeEfficiency.value * 650 / 1239.842, 6);
    expect(check.differentialEfficiency.value).toBeCloseTo(0.1594, 2);
  });

  it("takes up and down sweeps of a long capture together", () => {
    const { current, power, monitor } = makeSweep({ points: 4001 });
    const both = (values: Float64Array) =>
      Float64Array.from([...values, ...values.toReversed()]);
    const check = checkDiode({
      current: both(current),
      power: both(power!),
      monitor: both(monitor!),
      voltage: null,
    });
    expect(check.diagnostics.sweep.current.length).toBe(400);
    expect(check.thresholdCurrent.value).toBeCloseTo(0.025, 4);
  });

  it("adds the scales of ammeter and power meter to the uncertainties", () => {
    const check = checkDiode(makeSweep({ noise: 1e-9, width: 1e-6 }), {
      currentRelativeStandardUncertainty: 0.01,
      powerRelativeStandardUncertainty: 0.03,
    });
    const { thresholdCurrent, slopeEfficiency } = check;
    expect(thresholdCurrent.standardUncertainty / 0.025).toBeCloseTo(0.01, 4);
    expect(slopeEfficiency.standardUncertainty / slopeEfficiency.value)
      .toBeCloseTo(Math.hypot(0.01, 0.03), 4);
  });
});

describe("checkDiode() on diodes that cannot be used", () => {
  const random = createRandom(3);
  const noise = (size: number) => size * random.normal();
  const current = column(101, (i) => i * 0.5e-3);
  const states: [string, string, LightCurrentSweep][] = [
    ["laser diode without monitor signal", "photodiode", {
      ...makeSweep(),
      monitor: column(201, () => noise(2e-9)),
    }],
    ["laser diode without monitor signal", "wrong pin", {
      ...makeSweep(),
      power: null,
      monitor: column(201, () => noise(2e-9)),
    }],
    ["regulated package", "driver inside", {
      current,
      power: column(101, (i) => (i < 30 ? 0 : 3e-3) + noise(1e-5)),
      monitor: null,
      voltage: null,
    }],
    ["reversed leads", "wrong way round", {
      current: column(101, () => noise(1e-6)),
      power: column(101, () => noise(1e-6)),
      monitor: null,
      voltage: column(101, (i) => i * 0.05),
    }],
    ["reversed photodiode", "falls", {
      ...makeSweep(),
      power: null,
      monitor: makeSweep().monitor!.map((value) => -value),
    }],
    ["reversed photodiode", "rail", {
      ...makeSweep(),
      power: null,
      monitor: column(201, () => 75e-6 + noise(1e-9)),
    }],
    ["no lasing", "no threshold", {
      current,
      power: column(101, (i) => i * 2e-6 + noise(1e-7)),
      monitor: null,
      voltage: null,
    }],
  ];

  it("says in words what is wrong", () => {
    for (const [state, word, sweep] of states) {
      const check = checkDiode(sweep);
      expect(check.state).toBe(state);
      expect(check.finding).toContain(word);
      expect(check.warnings.map(({ code }) => code))
        .toContain(state.replaceAll(" ", "-"));
    }
  });

  it("still gives the threshold from the power meter without a monitor", () => {
    const check = checkDiode(states[0]![2]);
    expect(check.thresholdCurrent.value).toBeCloseTo(0.025, 4);
    expect(check.monitorSlope.value).toBeNaN();
    expect(check.operatingPoint).not.toBe(null);
  });

  it("gives no number where there is no threshold", () => {
    for (const [, , sweep] of [states[2]!, states[3]!, states[6]!]) {
      const check = checkDiode(sweep);
      expect(check.thresholdCurrent.value).toBeNaN();
      expect(check.operatingPoint).toBe(null);
    }
  });

  it("warns of a sweep beyond the rated current", () => {
    const codes = checkDiode(makeSweep(), { ratedCurrent: 0.04 }).warnings
      .map(({ code }) => code);
    expect(codes).toContain("over-driven");
  });

  it("refuses too few points, a current that stands still or is negative", () => {
    const few = makeSweep({ points: 8 });
    expect(() => checkDiode(few)).toThrow("take at least 12");
    const sweep = makeSweep();
    expect(() => checkDiode({ ...sweep, current: column(201, () => 0.03) }))
      .toThrow("stays at 30 mA");
    expect(() =>
      checkDiode({ ...sweep, current: sweep.current.map((value) => -value) })
    ).toThrow("never above 0");
  });

  it("says that a sweep starts above the threshold", () => {
    const { current, power, monitor } = makeSweep();
    const check = checkDiode({
      current: current.slice(120),
      power: power!.slice(120),
      monitor: monitor!.slice(120),
      voltage: null,
    });
    expect(check.state).toBe("threshold not swept");
    expect(check.finding).toContain("Start it at 0");
  });

  it("finds small steps of the light, and a monitor at its rail", () => {
    const sweep = makeSweep();
    const stepped = checkDiode({
      ...sweep,
      power: sweep.power!.map((value, i) =>
        value * (sweep.current[i]! > 0.034 ? 0.97 : 1) *
        (sweep.current[i]! > 0.042 ? 0.97 : 1)
      ),
    });
    expect(stepped.excludedBands.length).toBe(2);
    expect(stepped.excludedBands[0]!.low).toBeLessThan(0.034);
    expect(stepped.excludedBands[0]!.high).toBeGreaterThan(0.034);
    const clipped = checkDiode({
      ...sweep,
      power: null,
      monitor: sweep.monitor!.map((value) => Math.min(value, 45e-6)),
    });
    expect(clipped.warnings.map(({ code }) => code)).toContain("saturated");
    expect(clipped.thresholdCurrent.value).toBeCloseTo(0.025, 4);
    expect(clipped.operatingPoint!.ramp.high).toBeLessThan(0.0397);
  });

  it("asks whether 50 A are meant as 50 mA", () => {
    const sweep = makeSweep();
    const codes = checkDiode({
      ...sweep,
      current: sweep.current.map((value) => value * 1000),
    }).warnings.map(({ code }) => code);
    expect(codes).toContain("implausible-current");
  });
});

describe("fitCharacteristicTemperature()", () => {
  it("finds T0 of the simulated bench within its uncertainty", async () => {
    const points = [];
    for (const name of datasetNames("light-current")) {
      const { temperature } = datasetEntry(name).known;
      points.push({
        temperature: quantity(
          temperature!.value,
          temperature!.standardUncertainty,
          "K",
        ),
        thresholdCurrent: checkDiode(await loadDataset(name)).thresholdCurrent,
      });
    }
    const fit = fitCharacteristicTemperature(points);
    const { value, expandedUncertainty } = fit.characteristicTemperature;
    const truth = datasetTruth("light-current-25c").characteristicTemperature!;
    expect(Math.abs(value - truth.value)).toBeLessThan(expandedUncertainty);
    expect(expandedUncertainty).toBeLessThan(0.05 * value);
  });

  it("does not let a shared scale into T0", () => {
    const make = (scale: number) =>
      [280, 290, 300, 310].map((kelvin) => ({
        temperature: quantity(kelvin, 0.2, "K"),
        thresholdCurrent: quantity(
          scale * 0.02 * Math.exp((kelvin - 298.15) / 60),
          scale * 1e-4,
          "A",
        ),
      }));
    const [one, other] = [1, 1.02].map((scale) =>
      fitCharacteristicTemperature(make(scale))
    );
    expect(one!.characteristicTemperature.value).toBeCloseTo(60, 6);
    expect(other!.characteristicTemperature.value).toBeCloseTo(60, 6);
    expect(one!.thresholdAtRoom.standardUncertainty).toBeGreaterThan(1e-4);
  });

  it("says when thresholds do not fit an exponential, or fall", () => {
    const make = (currents: number[]) =>
      currents.map((current, i) => ({
        temperature: quantity(290 + 10 * i, 0.1, "K"),
        thresholdCurrent: quantity(current, 1e-5, "A"),
      }));
    const codes = (currents: number[]) =>
      fitCharacteristicTemperature(make(currents), {
        commonRelativeStandardUncertainty: 0,
      })
        .warnings.map(({ code }) => code);
    expect(codes([0.02, 0.025, 0.024, 0.03])).toContain("not-exponential");
    expect(codes([0.03, 0.027, 0.0243])).toContain("threshold-falls");
    expect(() => fitCharacteristicTemperature(make([0.02, 0.03]))).toThrow(
      "three temperatures",
    );
    expect(() => fitCharacteristicTemperature(make([0.02, -1, 0.03])))
      .toThrow("must be positive");
  });
});
