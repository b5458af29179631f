import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { datasetFolder, readBatch } from "fringebook";
import { shardOfScheduler } from "../../lib/cli/shard.ts";
import { readArguments } from "../../lib/cli/measure/arguments.ts";
import { readDone, settingsOf } from "../../lib/cli/measure/done.ts";
import { UsageError } from "../../lib/cli/task/mod.ts";
import { measureAll } from "../../lib/cli/measure/measure_all.ts";

const folder = fromFileUrl(datasetFolder);
const dataset = (name: string) => join(folder, name);
const settings = (...given: string[]) => readArguments(given);

describe("the arguments of 'measure'", () => {
  it("take a wavelength with or without its unit and an angle with it", () => {
    const bare = settings("a.csv", "--wavelength", "6.5e-7");
    const named = settings("a.csv", "--wavelength=650nm", "--angle", "60deg");
    expect(bare.task.wavelength).toBeCloseTo(named.task.wavelength, 20);
    expect(named.task.options.angle).toBeCloseTo(Math.PI / 3, 12);
    expect(() => settings("a", "--wavelength", "650nm", "--angle", "78"))
      .toThrow("write 78deg or 78rad");
  });
  it("hand on only what was given, so that no 0 stands for it", () => {
    expect(settings("a.csv", "--wavelength", "650nm").task.options).toEqual({
      wavelength: 650e-9,
    });
  });
  it("are refused with the reason where they make no sense", () => {
    const refused = (...given: string[]) => () => readArguments(given);
    expect(refused("a.csv")).toThrow("'--wavelength' is missing");
    expect(refused("--wavelength", "650nm")).toThrow("no capture file");
    expect(refused("a", "--wavelength", "650 kg")).toThrow(UsageError);
    expect(refused("a", "--wavelength", "650nm", "--as", "dance")).toThrow(
      '"distance", "motion", "speed", "level" or "light-current"',
    );
    expect(refused("a", "--wavelength", "650nm", "--count-by", "thumb"))
      .toThrow('"model-fit" or "phase-slope"');
    expect(refused("a", "--wavelength", "650nm", "--what")).toThrow("--what");
    expect(refused("a", "--wavelenght", "650nm")).toThrow("'--wavelength'?");
    expect(refused("a", "--wavelength", "650")).toThrow('"650nm"');
    expect(refused("a", "--wavelength", "650um")).toThrow("20 ");
    expect(refused("a", "--wavelength", "650nm", "--wavelength", "660nm"))
      .toThrow("twice");
    expect(refused("a", "--wavelength", "--json")).toThrow("has no value");
    expect(refused("a", "--wavelength", "650nm", "--json=yes"))
      .toThrow("takes no value");
    expect(refused("a", "--wavelength", "650nm", "--stream-above", "lots"))
      .toThrow("500MB or 2GB");
  });
  it("share the files among shards without gap or overlap", () => {
    const files = ["a", "b", "c", "d", "e"];
    const shards = [1, 2].map((i) =>
      settings(...files, "--wavelength", "650nm", "--shard", `${i}/2`).files
    );
    expect(shards).toEqual([["a", "c", "e"], ["b", "d"]]);
  });
  it("give each shard an output file of its own, and take captures from a list", async () => {
    const list = await Deno.makeTempFile();
    await Deno.writeTextFile(list, "c\r\nb\n\na\n");
    const given = ["--wavelength", "650nm", "--list", list];
    expect(settings("a", ...given).files).toEqual(["a", "c", "b"]);
    const { files, output } = settings(
      ...["a", ...given, "--shard", "3/12", "--output", "out/r.jsonl"],
    );
    expect(files).toEqual(["b"]);
    expect(output).toBe("out/r-03-of-12.jsonl");
    await Deno.remove(list);
    expect(() => settings(...given)).toThrow("cannot be read");
  });
});

// Variables as sbatch(1) of Slurm describes them, "OUTPUT ENVIRONMENT VARIABLES"
describe("the shard of a scheduler", () => {
  const shard = (variables: Record<string, string>) =>
    shardOfScheduler(
      (name) => variables[name.replace("SLURM_ARRAY_TASK_", "")],
      "measure",
    );
  it("is the place of the task in its array job", () => {
    expect(shard({ ID: "3", COUNT: "4", MIN: "1", MAX: "4", STEP: "1" }))
      .toEqual({ index: 3, count: 4 });
    expect(shard({ ID: "0", COUNT: "4", MIN: "0", MAX: "3" }))
      .toEqual({ index: 1, count: 4 });
    expect(shard({ ID: "5", COUNT: "4", MIN: "1", MAX: "7", STEP: "2" }))
      .toEqual({ index: 3, count: 4 });
  });
  it("is refused where captures would be left out", () => {
    expect(() => shard({})).toThrow("sbatch --array");
    expect(() => shard({ ID: "7", COUNT: "3", MIN: "1", MAX: "7", STEP: "1" }))
      .toThrow("gaps");
  });
});

describe("'measure' over many files", () => {
  it("writes one JSON line per file, goes on after a failure, and skips what is done", async () => {
    const output = await Deno.makeTempFile();
    // The quickest way of counting: how is not what this is about.
    const light = [
      ...["--wavelength", "650nm", "--monitor", "1"],
      ...["--as", "distance", "--count-by", "phase-slope"],
    ];
    const files = [
      dataset("distance-a.csv"),
      "/no/such/file.csv",
      dataset("tuning-060mm.csv"),
    ];
    const run = async (...more: string[]) => {
      const lines: string[] = [];
      const summary = await measureAll(
        settings(
          ...files,
          ...light,
          ...["--json", "--output", output],
          ...more,
        ),
        (line) => lines.push(line),
      );
      return { summary, lines: lines.map((line) => JSON.parse(line)) };
    };
    const first = await run("--jobs", "2");
    expect(first.summary).toEqual({
      measured: 2,
      failed: 1,
      skipped: 0,
      renewed: 0,
    });
    expect(first.lines).toHaveLength(3);
    const failed = first.lines.find(({ status }) => status === "failed");
    expect(failed.error.message).toMatch(/no such file/);
    const again = await run();
    expect(again.summary).toMatchObject({ measured: 0, failed: 1, skipped: 2 });
    const { outcomes } = await readBatch(output);
    const { task } = settings(
      ...files,
      ...light,
    );
    expect(outcomes[0]!.settings).toMatchObject({ wavelength: 650e-9 });
    // Results of other settings do not stand, nor those of a file that changed
    const way = await settingsOf(task);
    const same = await readDone(output, files, way);
    expect([same.files.size, same.outdated.size]).toEqual([2, 0]);
    const other = await readDone(output, files, { ...way, wavelength: 785e-9 });
    expect(other.files.size).toBe(0);
    expect(other.outdated.get(files[0]!)).toEqual(["wavelength"]);
    await Deno.remove(output);
  });
  it("measures files above the stated size block by block", async () => {
    const lines: string[] = [];
    const summary = await measureAll(
      settings(
        dataset("distance-a.csv"),
        ...["--wavelength", "650nm", "--monitor", "1", "--json"],
        ...["--stream-above", "1kB"],
      ),
      (line) => lines.push(line),
    );
    expect(summary).toMatchObject({ measured: 1, failed: 0, skipped: 0 });
    const { reports } = JSON.parse(lines[0]!);
    expect(reports[0].title).toMatch(/long capture/);
    expect(reports[1].title).toBe("Steps on the ramp");
  });
  it("takes a part out of a file above the stated size, the same as of a smaller one", async () => {
    const part = ["--from", "50ms", "--to", "150ms"];
    const measured = async (...more: string[]) => {
      const lines: string[] = [];
      await measureAll(
        settings(
          dataset("tuning-060mm.csv"),
          ...["--wavelength", "650nm", "--json", ...part, ...more],
          ...["--as", "distance", "--count-by", "phase-slope"],
        ),
        (line) => lines.push(line),
      );
      const { reports } = JSON.parse(lines[0]!);
      return reports[1].headlines;
    };
    expect(await measured("--stream-above", "1kB")).toEqual(await measured());
  });

  it("counts ramps by the slope of the phase, in memory and block by block", async () => {
    for (const above of ["500MB", "1kB"]) {
      const lines: string[] = [];
      await measureAll(
        settings(
          dataset("distance-a.csv"),
          ...["--wavelength", "650nm", "--as", "distance", "--json"],
          ...["--count-by", "phase-slope", "--stream-above", above],
        ),
        (line) => lines.push(line),
      );
      const { reports } = JSON.parse(lines[0]!);
      const codes = reports[1].warnings.map(({ code }: { code: string }) =>
        code
      );
      expect(codes).toContain("phase-slope-alone");
    }
  });
  it("does not take a torn last line for done", async () => {
    const output = await Deno.makeTempFile();
    const file = dataset("distance-a.csv");
    const line = JSON.stringify({ file, status: "measured" });
    await Deno.writeTextFile(output, line.slice(0, -5));
    const summary = await measureAll(
      settings(file, "--wavelength", "650nm", "--output", output),
      () => {},
    );
    expect(summary.measured).toBe(1);
    const lines = (await Deno.readTextFile(output)).trim().split("\n");
    expect(JSON.parse(lines.at(-1)!).status).toBe("measured");
    await Deno.remove(output);
  });
});
