import { afterAll, beforeAll, describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { datasetFolder } from "fringebook";
import { task as datasets } from "../../lib/cli/datasets.ts";
import { task as drawings } from "../../lib/cli/drawings.ts";
import { task as explore } from "../../lib/cli/explore.ts";
import { task as handout } from "../../lib/cli/handout.ts";
import { task as kernel } from "../../lib/cli/kernel.ts";
import { task as mark } from "../../lib/cli/mark.ts";
import { task as measure } from "../../lib/cli/measure.ts";
import { task as newCalibration } from "../../lib/cli/new_calibration.ts";
import { task as newCourse } from "../../lib/cli/new_course.ts";
import { task as record } from "../../lib/cli/record.ts";
import { task as report } from "../../lib/cli/report.ts";
import { task as run } from "../../lib/cli/run.ts";
import { task as summary } from "../../lib/cli/summary.ts";
import { task as tour } from "../../lib/cli/tour.ts";
import { task as watch } from "../../lib/cli/watch.ts";
import { task as worksheet } from "../../lib/cli/worksheet.ts";
import type { Task } from "../../lib/cli/task/mod.ts";
import { writeStrangers } from "./stranger.ts";
import { typed } from "./typed.ts";

const tasks: readonly Task[] = [
  ...[datasets, drawings, explore, handout, kernel, mark, measure],
  ...[newCalibration, newCourse, record, report, run, summary, tour],
  ...[watch, worksheet],
];
const light = ["--wavelength", "650nm"];

describe("a stranger's files", () => {
  let folder: string;
  const file = (name: string) => join(folder, name);

  beforeAll(async () => {
    folder = await Deno.makeTempDir();
    await writeStrangers(folder, ["tuning-120mm"]);
  });
  afterAll(() => Deno.remove(folder, { recursive: true }));

  it("say which channels there are, and by which option one is named", async () => {
    const { code, said } = await typed(
      measure,
      file("tuning-120mm.csv"),
      ...light,
    );
    expect(code).toBe(1);
    expect(said).toContain(
      "it has 1 'CH1' in V, 2 'CH2' in V. Name it, say --monitor 1",
    );
    const beyond = ["--monitor", "1", "--drive", "3"];
    for (const task of [measure, explore]) {
      const { said } = await typed(
        task,
        file("tuning-120mm.csv"),
        ...light,
        ...beyond,
      );
      expect(said).toContain(
        "'--drive' is \"3\": the file has 1 'CH1' in V, 2 'CH2' in V",
      );
    }
  });

  it("are not taken for a current where the drive is in volts", async () => {
    const channels = ["--monitor", "CH1", "--drive", "2"];
    await Deno.writeTextFile(
      file("readings.csv"),
      "file;distance (cm);standard uncertainty (mm)\ntuning-120mm.csv;12,0;0,2\n",
    );
    const given: [Task, string[]][] = [
      [measure, [file("tuning-120mm.csv")]],
      [explore, [file("tuning-120mm.csv"), "--output", file("notes")]],
      [newCalibration, [
        ...["--readings", file("readings.csv")],
        ...["--output", file("notes")],
      ]],
    ];
    for (const [task, own] of given) {
      const { said } = await typed(task, ...own, ...light, ...channels);
      expect(said).toContain("as it is in V");
      expect(said).toContain("--current-per-voltage 10mA/V");
    }
    // A voltage that moves the target is none of the diode's current.
    const moved = await typed(
      measure,
      ...[file("tuning-120mm.csv"), ...light, ...channels, "--as", "speed"],
    );
    expect(moved.said).not.toContain("as it is in V");
    // Nothing was made for what cannot be used.
    await expect(Deno.stat(file("notes"))).rejects.toThrow();
  });

  it("give the same steps as the shipped capture that they hold", async () => {
    const counted = async (path: string, ...more: string[]) => {
      const { said } = await typed(
        measure,
        ...[path, ...light, ...more, "--json"],
        ...["--as", "distance", "--count-by", "phase-slope"],
      );
      const { reports } = JSON.parse(said);
      const { headlines, rows } = reports[1];
      const row = [...headlines, ...rows].find(({ label }) =>
        label === "steps per current"
      );
      return row.value as number;
    };
    const shipped = await counted(
      join(fromFileUrl(datasetFolder), "tuning-120mm.csv"),
    );
    const own = await counted(
      file("tuning-120mm.csv"),
      ...["--monitor", "1", "--drive", "2"],
      ...["--current-per-voltage", "10mA/V"],
    );
    // Seven digits of each sample are kept.
    expect(Math.abs(own / shipped - 1)).toBeLessThan(1e-5);
    const offset = await counted(
      file("tuning-120mm.csv"),
      ...["--monitor", "1", "--drive", "2"],
      ...["--current-per-voltage", "10mA/V", "--current-offset", "-5mA"],
      ...["--from", "0", "--to", "50ms"],
    );
    // Another zero of the current changes no difference; half of the ramps do.
    expect(Math.abs(offset / shipped - 1)).toBeLessThan(1e-3);
  });
});

describe("every task", () => {
  for (const task of tasks) {
    it(`tells how it is called and does nothing else: ${task.name}`, async () => {
      const { code, said } = await typed(task, "--help");
      expect(code).toBe(0);
      expect(said).toContain(`deno task ${task.name}`);
      const widest = Math.max(
        ...said.split("\n").map((line) => [...line].length),
      );
      expect(widest).toBeLessThanOrEqual(80);
    });
    it(`refuses an option that is not there: ${task.name}`, async () => {
      const { code, said } = await typed(task, "--unheard", "5");
      expect(code).toBe(2);
      expect(said).toContain("no option '--unheard'");
      expect(said).not.toMatch(/^\s+at /m);
      expect(said).toContain(`deno task ${task.name} --help`);
    });
  }

  it("says in a sentence what is wrong with what was typed", async () => {
    const nowhere = "/no/such/place.csv";
    const wrong: [Task, string[], RegExp][] = [
      [tour, ["07_tunning"], /no notebook has '07_tunning'.*07_tuning/],
      [tour, ["--hlep"], /no option '--hlep'/],
      [explore, light, /0 were given/],
      [explore, ["a.csv"], /'--wavelength' is missing/],
      [explore, [nowhere, ...light], /no such file/],
      [explore, [nowhere, ...light, "--json"], /deno task measure/],
      [summary, [nowhere], /no such file/],
      [summary, [], /0 were given/],
      [newCalibration, light, /'--readings' is missing/],
      [newCalibration, ["--readings", nowhere, ...light], /no such file/],
      [newCalibration, ["--angle", "3deg", ...light], /has no use for it/],
      [run, [nowhere], /no such file/],
      [run, ["--paralel", "2", nowhere], /Did you mean '--parallel'/],
      [kernel, ["--user", "--sys-prefix"], /several places/],
      [datasets, ["more"], /it takes nothing/],
      [handout, [], /'--students' is missing/],
      [handout, ["a", "b", "--students", "c"], /named with --students/],
      [
        handout,
        [nowhere, "--students", "Ada"],
        /'deno task new-course FOLDER'/,
      ],
      [newCourse, [], /one folder is taken/],
      [report, [nowhere, "--output", "x.txt"], /must end in \.pdf/],
      [mark, [], /0 were given/],
      [mark, ["a", "--key", nowhere], /no such file|there is no key/],
      [mark, ["a", "--jobs", "many"], /must be a number/],
      [measure, ["a", ...light, "--drive-waveform", "sine"], /needs all of/],
      [measure, ["a", ...light, "--drive-span", "5mA"], /20mA\.\.60mA/],
      [measure, ["a", ...light, "--from", "2s", "--to", "1s"], /before/],
      [measure, ["a", ...light, "--current-offset", "5mA"], /without/],
      [measure, ["a", ...light, "--drive", "2V"], /no such file/],
    ];
    for (const [task, given, words] of wrong) {
      const { code, said } = await typed(task, ...given);
      expect([given, said]).toEqual([given, expect.stringMatching(words)]);
      expect(said).not.toMatch(/^\s+at /m);
      expect(code).toBe(task === measure && given[3] === "--drive" ? 1 : 2);
    }
  });
});
