/** The afternoon at the bench, from its captures to its figures over days. */
import { join } from "@std/path";
import { datasetTruth } from "../../../lib/datasets/mod.ts";
import { demand } from "../tally.ts";
import { exists, good, measured, shipped, task, work } from "./typed.ts";

export const afternoon: Record<string, () => Promise<void>> = {
  "the whole afternoon runs on files that name CH1 and CH2, in volts":
    async () => {
      const infrared = ["--wavelength", "785nm", "--wavelength-uncertainty"]
        .concat("1.5nm", "--monitor", "CH1");
      const red = ["--wavelength", "650nm", "--wavelength-uncertainty", "2nm"]
        .concat("--monitor", "CH1");
      const calibrated = ["--tuning", "8.29pm/mA"]
        .concat("--tuning-uncertainty", "0.03pm/mA");
      const found = new Map([
        ...await measured(
          infrared,
          ...["speaker-small", "speaker-large", "speaker-fast"],
          "speaker-draught",
        ),
        ...await measured(infrared, "speaker-lopsided", "speaker-soft"),
        ...await measured([...infrared, "--as", "motion"], "speaker-square"),
        ...await measured(
          ["--wavelength", "650nm", "--wavelength-uncertainty", "2nm"]
            .concat("--junction", "CH1"),
          "junction",
        ),
        ...await measured(red, "tap", "taps"),
        ...await measured(
          [...red, "--angle", "78deg", "--angle-uncertainty", "0.3deg"],
          ...["motor-away", "motor-back"],
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", "--current-per-voltage", "2.06mA/V"],
            ...["--current-offset", "40mA", "--tuning", "8.26pm/mA"],
            ...["--tuning-uncertainty", "0.065pm/mA"],
          ],
          ...["sine-far", "sine-near"],
        ),
        ...await measured(
          [...red, "--angle", "78deg", "--angle-uncertainty", "0.3deg"],
          ...["motor-turns", "motor-stops", "motor-eccentric"],
        ),
        ...await measured(
          [...red, "--angle", "78deg", "--angle-uncertainty", "0.3deg"]
            .concat("--as", "speed"),
          "motor-belt",
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", "--current-per-voltage", "2.06mA/V"],
            ...["--current-offset", "40mA", ...calibrated, "--targets"],
          ],
          ...["two-targets", "two-targets-close"],
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", ...calibrated],
            ...["--current-curve", shipped("voltage-drive-curve.csv")],
          ],
          "voltage-drive",
        ),
        ...await measured(
          [
            ...[...red, "--drive", "CH2", ...calibrated],
            ...["--current-per-voltage", "5mA/V", "--current-offset", "40mA"],
            ...["--drive-corner", "find"],
          ],
          "capacitor-drive",
        ),
      ]);
      const holds = (name: string, label: string, truth: number) => {
        const { value, standardUncertainty: u, coverageFactor: k } = found
          .get(name)!.flatMap(({ headlines }) => headlines)
          .find((each) => each.label === label)!;
        // One seeded case each, thirty values in all: one in twenty lies outside of
        // its 95 % interval, so that 99.7 % is asked.
        const reach = 1.5 * (k ?? 2) * u;
        demand(
          Math.abs(value - truth) <= reach,
          `${name}: ${label} is ${value} ± ${reach}, and ${truth}`,
        );
      };
      const truth = (name: string, key: string) =>
        datasetTruth(name)[key]!.value;
      const rowOf = (name: string, label: string) => {
        const row = found.get(name)!.flatMap(({ rows }) => rows)
          .find((each) => each.label === label);
        demand(row !== undefined, `${name} has no row '${label}'`);
        return row;
      };
      const textOf = (name: string, label: string) => rowOf(name, label).text;
      const says = (name: string, label: string, key: string) => {
        const { value, standardUncertainty: u } = rowOf(name, label);
        demand(
          Math.abs(Number(value) - truth(name, key)) <= 3 * u!,
          `${name}: ${label} is ${value} ± ${3 * u!}, and ${truth(name, key)}`,
        );
      };
      for (const name of ["small", "large", "fast", "draught"]) {
        for (const key of ["amplitude", "frequency"]) {
          holds(`speaker-${name}`, key, truth(`speaker-${name}`, key));
        }
      }
      for (
        const name of ["speaker-lopsided", "speaker-soft", "speaker-square"]
      ) {
        holds(name, "peak to peak", truth(name, "peakToPeak"));
      }
      for (const key of ["amplitude", "frequency"]) {
        holds("junction", key, truth("junction", key));
      }
      for (const name of ["tap", "taps"]) {
        holds(name, "natural frequency", truth(name, "naturalFrequency"));
      }
      holds("taps", "quality factor", 0.5 / truth("taps", "dampingRatio"));
      for (
        const [name, way] of [
          ["motor-away", "receding"],
          ["motor-back", "approaching"],
        ] as const
      ) {
        holds(name, "speed", truth(name, "speed"));
        const said = found.get(name)!.flatMap(({ rows }) => rows)
          .find(({ label }) => label === "direction along the beam")!.text;
        demand(said === way, `${name}: it is said to be ${said}`);
      }
      for (const name of ["sine-far", "sine-near"]) {
        holds(name, "distance", truth(name, "opticalDistance"));
      }
      for (const name of ["voltage-drive", "capacitor-drive"]) {
        holds(name, "distance", truth(name, "distance"));
      }
      for (const name of ["motor-turns", "motor-stops"]) {
        holds(name, "highest speed", truth(name, "highestSpeed"));
      }
      says("motor-turns", "turns round 1, at", "turningTime");
      says("motor-stops", "stands still 1, from", "stopTime");
      says("motor-stops", "stands still 1, until", "startTime");
      says("motor-eccentric", "comes back at even times, at", "rotationRate");
      says("motor-belt", "second speed beside it", "secondSpeed");
      // What two targets on one ramp are told apart by, and where not.
      holds(
        "two-targets",
        "distance of target 1",
        truth("two-targets", "plateDistance"),
      );
      holds(
        "two-targets",
        "distance of target 2",
        truth("two-targets", "cardDistance"),
      );
      const close = textOf("two-targets-close", "finding");
      demand(/within|apart|closer/.test(close), close);
      const hard = await task(
        "measure",
        ...[shipped("speaker-hard.csv"), ...infrared],
      );
      demand(
        hard.code === 1 && hard.said.includes("softer edges"),
        `edges that no fringe follows: ${hard.said}`,
      );
      const level = await good(
        "level",
        shipped("level-visits.csv"),
        ...["--monitor", "CH1", "--empty", shipped("level-empty.csv")],
      );
      demand(/stays\s+3\b/.test(level), level);
      const page = join(work, "worksheet.html");
      await good("worksheet", "--output", page);
      demand(await exists(page), "no worksheet");
    },
  "a calibration at three temperatures measures at a fourth": async () => {
    const given = [
      ...["--wavelength", "650nm", "--wavelength-uncertainty", "2nm"],
      ...["--monitor", "CH1", "--drive", "CH2"],
      ...["--current-per-voltage", "2.06mA/V", "--current-offset", "40mA"],
    ];
    const records = await Promise.all(["15", "25", "35"].map(async (each) => {
      const output = join(work, `at-${each}`);
      await good(
        "new-calibration",
        ...["--readings", shipped(`warm-${each}c.csv`), ...given],
        ...["--temperature", each, "--output", output],
      );
      const [record] = [...Deno.readDirSync(join(output, "records"))];
      return join(output, "records", record!.name);
    }));
    // The tuning has changed from the first temperature on: exit code 1.
    const { code, said } = await task(
      "chart",
      ...[...records, "--temperature", "30°C"],
    );
    demand(code === 1, said);
    const [, value, u] =
      /--tuning ([\d.]+pm\/mA) --tuning-uncertainty ([\d.]+pm\/mA)/.exec(said)!;
    const found = await measured(
      [...given, "--tuning", value!, "--tuning-uncertainty", u!],
      "warm-30c",
    );
    const { distance, zeroOffset } = datasetTruth("warm-30c");
    const measuredAt = found.get("warm-30c")!
      .flatMap(({ headlines }) => headlines)
      .find(({ label }) => label === "distance")!;
    const truth = distance!.value + zeroOffset!.value;
    demand(
      Math.abs(measuredAt.value - truth) < 3 * measuredAt.standardUncertainty,
      `the distance at 30 °C is ${measuredAt.value}, and ${truth}`,
    );
  },
  "chart shows the day on which the lens was cleaned, and runs of one loudspeaker":
    async () => {
      const days = await task(
        "chart",
        ...[shipped("check-distance.csv"), "--reference", "120mm"],
      );
      demand(
        days.code === 1 && /2026-10-2[4-7]/.test(days.said),
        `no day is named: ${days.said}`,
      );
      const output = join(work, "runs.jsonl");
      await good(
        "measure",
        ...["small", "large"].map((each) => shipped(`speaker-${each}.csv`)),
        ...["--wavelength", "785nm", "--monitor", "CH1", "--output", output],
      );
      const runs = await task("chart", output, "--quantity", "amplitude");
      demand(
        runs.code === 1 && /1\.9\d+/.test(runs.said),
        `the change is not named: ${runs.said}`,
      );
    },
};
