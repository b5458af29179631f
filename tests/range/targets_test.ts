import {
  createCapture,
  datasetEntry,
  datasetTruth,
  loadDataset,
  simulateCapture,
} from "fringebook";
import { findTargets } from "fringebook/range";
import { task as measure } from "../../lib/cli/measure.ts";
import { typed } from "../cli/typed.ts";
import { describe, expect, it } from "vitest";
import { targetsCapture, tuning, wavelength } from "./two_targets.ts";

const given = { tuning: { tuning, wavelength } };

describe("findTargets()", () => {
  it("finds one target where there is one, also with leaning fringes", () => {
    const found = findTargets(
      targetsCapture({ distances: [0.2], feedback: [0.7] }),
      given,
    );
    expect(found.verdict).toBe("one target");
    // N = 2 n L Δλ/λ² (Beheim and Fritsch 1986), worked out by hand: 75.76.
    expect(Math.abs(found.targets[0]!.steps.value - 75.76)).toBeLessThan(0.02);
    expect(found.warnings.map(({ code }) => code)).toEqual(["saw-teeth"]);
  });

  it("finds a plate at 90 mm and the card at 250 mm behind it, within U", () => {
    const { verdict, targets } = findTargets(
      targetsCapture({ distances: [0.09, 0.25], feedback: [0.25, 0.2] }),
      given,
    );
    expect(verdict).toBe("two targets");
    [0.09, 0.25].forEach((truth, k) => {
      const { value, expandedUncertainty } = targets[k]!.distance!;
      expect(Math.abs(value - truth)).toBeLessThan(expandedUncertainty);
      expect(expandedUncertainty).toBeLessThan(1e-3);
    });
  });

  it("finds plate and card of the sample capture where its truth says", async () => {
    // Source: the planted truth, from calibration and label with their u.
    const { tuning, wavelength } = datasetEntry("two-targets").known;
    const stated = { tuning: { tuning: tuning!, wavelength: wavelength! } };
    const { verdict, targets } = findTargets(
      await loadDataset("two-targets"),
      stated,
    );
    expect(verdict).toBe("two targets");
    const truth = datasetTruth("two-targets");
    [truth.plateDistance!, truth.cardDistance!].forEach(({ value }, k) => {
      const { distance, steps } = targets[k]!;
      expect(Math.abs(distance!.value - value))
        .toBeLessThan(3 * distance!.standardUncertainty);
      const planted = [truth.plateSteps!, truth.cardSteps!][k]!.value;
      expect(Math.abs(steps.value - planted))
        .toBeLessThan(3 * steps.standardUncertainty);
    });
    const close = findTargets(await loadDataset("two-targets-close"), stated);
    expect(close.verdict).toBe("not resolved");
  });

  it("names targets that stand too close, and one at twice the distance", () => {
    const close = findTargets(
      targetsCapture({ distances: [0.2, 0.203], feedback: [0.2, 0.2] }),
      given,
    );
    expect(close.verdict).toBe("not resolved");
    expect(close.warnings.map(({ code }) => code)).toContain("not-resolved");
    const double = findTargets(
      targetsCapture({ distances: [0.1, 0.2], feedback: [0.3, 0.05] }),
      given,
    );
    expect(double.verdict).not.toBe("two targets");
    expect(double.targets.length).toBe(1);
    expect(double.warnings.length).toBeGreaterThan(0);
  });

  it("are looked for from the shell, in a file that names CH1 and CH2 in volts", async () => {
    const capture = targetsCapture({
      distances: [0.05, 0.12],
      feedback: [0.2, 0.3],
    });
    const [signal, drive] = capture.channels.map(({ samples }) => samples);
    const file = await Deno.makeTempFile({ suffix: ".csv" });
    await Deno.writeTextFile(
      file,
      "time (s),CH1 (V),CH2 (V)\n" + Array.from(
        signal!,
        (value, i) =>
          `${i / 100e3},${value.toFixed(6)},${(drive![i]! / 0.01).toFixed(6)}`,
      ).join("\n"),
    );
    const { said } = await typed(
      measure,
      ...[file, "--wavelength", "650nm", "--tuning", "8pm/mA", "--targets"],
      ...["--monitor", "1", "--drive", "2", "--current-per-voltage", "10mA/V"],
      ...["--as", "distance", "--count-by", "phase-slope", "--json"],
    );
    await Deno.remove(file);
    const { reports } = JSON.parse(said);
    const found = reports.at(-1);
    expect(found.kind).toBe("range.targets");
    const [near, far] = found.headlines;
    expect(near.value).toBeCloseTo(0.05, 4);
    expect(far.value).toBeCloseTo(0.12, 4);
  });

  it("says that there is nothing on an empty ramp", () => {
    const capture = targetsCapture({
      distances: [0.2],
      feedback: [0.2],
      decibels: -40,
    });
    expect(() => findTargets(capture)).toThrow("no rate of fringes stands out");
    const still = simulateCapture({
      distance: 0.2,
      samplingRate: 1e4,
      duration: 0.1,
    });
    expect(() => findTargets(still)).toThrow("does not change");
    const [signal, drive] = capture.channels;
    const gaps = signal!.samples.map((value, i) => i === 4000 ? NaN : value);
    expect(() =>
      findTargets(createCapture([{ ...signal!, samples: gaps }, drive!], {
        samplingRate: 100e3,
      }))
    ).toThrow("are missing");
  });
});
