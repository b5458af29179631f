import {
  calibrateLevel,
  calibratePresence,
  createCapture,
  findPresence,
  measureLevel,
  quantity,
} from "fringebook";
import { monotoneCubic } from "fringebook/fit";
import { createPresenceTracker, levelsOfSweep } from "fringebook/level";
import { createRandom } from "fringebook/signal";
import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { datasetFolder, datasetTruth } from "fringebook";
import { task as level } from "../../lib/cli/level.ts";
import { typed } from "../cli/typed.ts";
import { lensLevel, levelCapture } from "./bench.ts";

/** Place, value and slope by SciPy 1.17.1, `PchipInterpolator`. */
const reference = [
  [0, 1, 2.666666666666667],
  [0.3, 1.7862, 2.5086666666666666],
  [0.9, 2.9194, 1.0046666666666666],
  [1.7, 3.3445037037037038, 0.36977777777777776],
  [2.6, 3.344, -2.8800000000000017],
  [2.9, 2.1560000000000006, -2.8800000000000026],
  [4, 2, 0],
  [5.5, 1.8888888888888888, -0.4333333333333333],
  [7.9, -0.8407111111111112, -1.5853333333333333],
] as const;

describe("a monotone curve", () => {
  it("has the values and slopes of SciPy's PchipInterpolator", () => {
    const curve = monotoneCubic([0, 1, 2.5, 3, 5, 8], [1, 3, 3.5, 2, 2, -1]);
    for (const [x, y, slope] of reference) {
      expect(curve.at(x)).toBeCloseTo(y, 12);
      expect(curve.slopeAt(x)).toBeCloseTo(slope, 12);
    }
  });
});

describe("calibratePresence()", () => {
  it("takes the quantile of Student's t for few averages and of a normal for many", () => {
    // NIST/SEMATECH handbook, 1.3.6.7.2: t(0.999, 10) = 4.144; 1.3.6.7.1:
    // Φ(3.00) = 0.99865.
    const few = calibratePresence(
      levelCapture(2e-4, { samples: 11 * 200 }),
      { falseAlarmInterval: 0.02 / 0.001 },
    );
    expect(few.margin / Math.sqrt(12 / 11)).toBeCloseTo(4.144, 3);
    const many = calibratePresence(levelCapture(2e-4, { samples: 1e5 }), {
      averagingTime: 1e-3,
      falseAlarmInterval: 1e-3 / (1 - 0.99865),
    });
    // t(0.99865, 9999) is 0.0008 above the normal quantile; Φ has five digits.
    expect(Math.abs(many.margin - 3)).toBeLessThan(2e-3);
    expect(many.noise * Math.sqrt(10)).toBeCloseTo(2e-6, 7);
  });

  it("has the detection limit of Currie: 3.29 standard deviations at 5 %", () => {
    // Currie 1968, Anal. Chem. 40, 586: L_D = (1.645 + 1.645) σ (from memory).
    const { detectionLimit, noise } = calibratePresence(
      levelCapture(2e-4, { samples: 1e5 }),
      { averagingTime: 1e-3, falseAlarmInterval: 20e-3 },
    );
    expect(Math.abs(detectionLimit / noise - 3.29)).toBeLessThan(1e-3);
  });

  it("says which way the target goes, and when it hides in the noise", () => {
    const empty = levelCapture(2e-4);
    const falls = calibratePresence(empty, {
      present: levelCapture(1.9e-4, { seed: 2 }),
    });
    expect(falls.change).toBe("fall");
    expect(falls.threshold).toBeLessThan(falls.emptyLevel.value);
    expect(falls.missProbability).toBeLessThan(1e-6);
    const hidden = calibratePresence(empty, {
      present: levelCapture(2.002e-4, { seed: 3 }),
    });
    expect(hidden.warnings.map(({ code }) => code)).toContain("target-hidden");
  });

  it("tells drift from noise, and a record without a level", () => {
    const random = createRandom(7);
    const of = (value: (i: number) => number) =>
      createCapture([{
        name: "CH1",
        role: "monitor signal",
        unit: "V",
        samples: Float64Array.from({ length: 20e3 }, (_, i) => value(i)),
      }], { samplingRate: 10e3 });
    const codes = (value: (i: number) => number) =>
      calibratePresence(of(value)).warnings.map(({ code }) => code);
    expect(codes((i) => 20 + 1e-6 * i + 0.02 * random.normal()))
      .toContain("level-drifts");
    expect(codes(() => 0.2 * random.normal())).toContain("no-level");
    expect(codes(() => 20 + 0.2 * random.normal())).toEqual([]);
    expect(() => calibratePresence(of(() => 20))).toThrow("does not change");
    expect(() => calibratePresence(of(() => 20), { averagingTime: 1 }))
      .toThrow("2 averages");
  });
});

describe("findPresence()", () => {
  const calibration = calibratePresence(levelCapture(2e-4));
  const { threshold, release, emptyLevel } = calibration;
  /** Levels between which nothing may change while the state stays. */
  const between = (threshold + release) / 2;

  it("keeps the state between release and threshold", () => {
    const course = [
      emptyLevel.value,
      between,
      threshold + 5e-7,
      between,
      emptyLevel.value,
      between,
      threshold + 5e-7,
    ];
    const random = createRandom(5);
    const samples = Float64Array.from(
      { length: course.length * 1000 },
      // Noise far below the way from release to threshold.
      (_, i) => 1e5 * (course[Math.floor(i / 1000)]! + 1e-8 * random.normal()),
    );
    const capture = createCapture([
      { name: "CH1", role: "monitor signal", unit: "V", samples },
    ], { samplingRate: 10e3 });
    const { stays, presentAtEnd } = findPresence(capture, calibration);
    expect(stays.map(({ from, to }) => [from, to]))
      .toEqual([[0.2, 0.4], [0.6, 0.7]]);
    expect(presentAtEnd).toBe(true);
    const tracker = createPresenceTracker(calibration, { samplingRate: 10e3 });
    const decisions = [];
    // Blocks of any length give the same decisions.
    for (let i = 0; i < samples.length; i += 333) {
      decisions.push(...tracker.push(samples.subarray(i, i + 333)));
    }
    const changes = decisions.filter(({ changed }) => changed);
    expect(changes.map(({ present }) => present)).toEqual([true, false, true]);
    // A decision comes at the end of its 20 ms.
    expect(changes.map(({ time }) => Number(time.toFixed(6))))
      .toEqual([0.22, 0.42, 0.62]);
  });

  it("says that the bench is another where the level is beyond the empty one", () => {
    const { warnings } = findPresence(levelCapture(1.5e-4), calibration);
    expect(warnings.map(({ code }) => code)).toContain("level-beyond-empty");
  });
});

/** A calibration of the bench with a lens: peak at some 16 mm. */
function lensCalibration(seed: number, fringe = 0) {
  const millimetres = [6, 8, 10, 12, 14, 16, 18, 20, 23, 27, 32, 38, 46, 56];
  return calibrateLevel(millimetres.map((each, k) => ({
    distance: each / 1000,
    standardUncertainty: 0,
    capture: levelCapture(lensLevel(each / 1000), {
      seed: 100 * seed + k,
      fringe,
    }),
  })));
}

describe("measureLevel()", () => {
  const calibration = lensCalibration(1);

  it("finds the stretches before and behind the lens's focus", () => {
    expect(calibration.branches.map(({ direction }) => direction))
      .toEqual(["rises", "falls"]);
    const turn = calibration.branches[1]!.distances.low;
    let best = 0;
    for (let d = 5e-3; d < 0.05; d += 1e-4) {
      if (lensLevel(d) > lensLevel(best)) best = d;
    }
    // The points lie 2 mm apart.
    expect(Math.abs(turn - best)).toBeLessThan(2e-3);
  });

  it("does not determine a distance that two stretches share, and does with 'within'", () => {
    const capture = levelCapture(lensLevel(0.03), { seed: 9 });
    const open = measureLevel(capture, { calibration });
    expect(open.distance).toBe(null);
    expect(open.finding).toContain("not determined");
    expect(open.diagnostics.candidates.length).toBe(2);
    const { distance } = measureLevel(capture, {
      calibration,
      within: { low: "18mm", high: "60mm" },
    });
    expect(Math.abs(distance!.value - 0.03))
      .toBeLessThan(distance!.expandedUncertainty);
    expect(distance!.expandedUncertainty).toBeLessThan(1e-3);
  });

  it("determines nothing at the turn, beyond the ends, or without a curve", () => {
    const at = (level: number, within = { low: 0, high: 1 }) =>
      measureLevel(levelCapture(level, { seed: 4 }), { calibration, within });
    const peak = lensLevel(0.0176);
    for (const level of [peak, 1.05 * peak, 1.5 * peak, 1.9e-4]) {
      const { distance, warnings } = at(level, { low: 0.015, high: 1 });
      expect(distance).toBe(null);
      expect(warnings.map(({ code }) => code))
        .toContain("distance-not-determined");
    }
    expect(measureLevel(levelCapture(2e-4)).finding).toContain(
      "calibrateLevel",
    );
  });

  it("corrects for a diode whose power has changed", () => {
    const distances = [20, 25, 30, 36, 43, 52];
    const made = calibrateLevel(
      distances.map((each) => ({
        distance: each / 1000,
        standardUncertainty: 0,
        level: quantity(lensLevel(each / 1000), 1e-8, "A"),
      })),
      { emptyLevel: "200uA", repeatability: "10nA" },
    );
    const dimmed = levelCapture(0.93 * lensLevel(0.04), { noise: 1e-7 });
    const { distance, warnings } = measureLevel(dimmed, {
      calibration: made,
      emptyLevel: 0.93 * 200e-6,
    });
    expect(Math.abs(distance!.value - 0.04))
      .toBeLessThan(distance!.expandedUncertainty);
    expect(warnings.map(({ code }) => code)).toContain("power-changed");
    // Without the correction it is off by more than 1 mm.
    const off = measureLevel(dimmed, { calibration: made }).distance;
    expect(off === null || Math.abs(off.value - 0.04) > 1e-3).toBe(true);
  });

  it("reads a curve off a slow sweep", () => {
    const random = createRandom(11);
    const count = 48_000;
    const sweep = createCapture([{
      name: "CH1",
      role: "monitor signal",
      unit: "V",
      samples: Float64Array.from({ length: count }, (_, i) => {
        const distance = 0.02 + 0.04 * i / count;
        const fringe = 1e-6 * Math.cos(4 * Math.PI * distance / 650e-9);
        return 1e5 * (lensLevel(distance) + fringe + 1e-6 * random.normal());
      }),
    }], { samplingRate: 4800 });
    const made = calibrateLevel(
      levelsOfSweep(sweep, { from: "20mm", to: "60mm" }),
    );
    expect(made.branches.length).toBe(1);
    const { distance } = measureLevel(
      levelCapture(lensLevel(0.035), { seed: 3, noise: 1e-6 }),
      { calibration: made },
    );
    expect(Math.abs(distance!.value - 0.035))
      .toBeLessThan(distance!.expandedUncertainty);
  });
});

describe("deno task level", () => {
  const file = (name: string) =>
    join(fromFileUrl(datasetFolder), `${name}.csv`);
  const bench = ["--monitor", "CH1"];

  it("finds the visits and the distance on the sample captures, which name CH1 in volts", async () => {
    const { code, said } = await typed(
      level,
      ...[file("level-card-rests"), ...bench, "--json"],
      ...["--sweep", file("level-card")],
      ...["--sweep-from", "6mm", "--sweep-to", "80mm"],
      ...["--sweep-uncertainty", "0.2mm", "--repeatability", "10.6nA"],
      ...["--within", "18mm..80mm", "--empty", file("level-empty")],
    );
    expect(code).toBe(0);
    const reports = said.split("\n").map((line) => JSON.parse(line));
    expect(reports.map(({ kind }) => kind)).toEqual([
      "level.calibration",
      "level.threshold",
      "level.level",
      "level.presence",
    ]);
    const [distance] = reports[2].headlines;
    const { distance: truth } = datasetTruth("level-card-rests");
    expect(Math.abs(distance.value - truth!.value))
      .toBeLessThan(2 * distance.standardUncertainty);
    const visits = await typed(
      level,
      ...[file("level-visits"), ...bench, "--empty", file("level-empty")],
    );
    expect(visits.said).toContain("stays                               3");
  });

  it("says what is missing", async () => {
    const folder = await Deno.makeTempDir();
    const two = join(folder, "two.csv");
    const rows = Array.from(
      { length: 99 },
      (_, i) => `${i / 100},5.${i},0.${i}`,
    );
    await Deno.writeTextFile(
      two,
      `time (s),CH1 (V),CH2 (V)\n${rows.join("\n")}\n`,
    );
    const { code, said } = await typed(level, two);
    await Deno.remove(folder, { recursive: true });
    expect(code).toBe(2);
    expect(said).toContain("Name it, say --monitor 1");
    const sweep = await typed(
      level,
      ...[...bench, "--sweep", file("level-card")],
    );
    expect(sweep.said).toContain("'--sweep-from' and '--sweep-to'");
  });
});
