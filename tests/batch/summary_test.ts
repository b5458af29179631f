import { describe, expect, it } from "vitest";
import { fromFileUrl, join } from "@std/path";
import { datasetFolder, readBatch, summariseBatch } from "fringebook";
import type { FileOutcome } from "fringebook/batch";
import { readArguments } from "../../lib/cli/measure/arguments.ts";
import { measureAll } from "../../lib/cli/measure/measure_all.ts";

function outcome(file: string, value: number | string): FileOutcome {
  return {
    file,
    status: "measured",
    measurement: "speed",
    reason: "one line stands out",
    reports: [{
      kind: "speed.doppler",
      headlines: [{ label: "speed", value, standardUncertainty: 1, unit: "m" }],
      warnings: [],
    }],
    error: null,
  };
}

const failure: FileOutcome = {
  ...outcome("x", 0),
  status: "failed",
  reports: [],
  error: { name: "NotFound", message: "no such file" },
};

async function written(lines: readonly string[]): Promise<string> {
  const path = await Deno.makeTempFile({ suffix: ".jsonl" });
  await Deno.writeTextFile(path, lines.join("\n"));
  return path;
}

const made = (values: readonly (number | string)[]) => ({
  fileName: "made.jsonl",
  sha256: null,
  outcomes: values.map((value, k) => outcome(`${k}.wav`, value)),
  brokenLines: [],
});

describe("reading a batch", () => {
  it("takes the last line of a repeated capture and names torn and foreign lines", async () => {
    const path = await written([
      JSON.stringify({ ...failure, file: "a" }),
      JSON.stringify(outcome("b", 2)),
      JSON.stringify(outcome("a", 1)),
      '{"status": "measured", "file": 7}',
      "[1, 2]",
      JSON.stringify(outcome("c", 3)).slice(0, 40),
    ]);
    const { outcomes, brokenLines, sha256 } = await readBatch(path);
    expect(outcomes.map(({ file, status }) => [file, status])).toEqual([
      ["a", "measured"],
      ["b", "measured"],
    ]);
    expect(brokenLines).toEqual([4, 5, 6]);
    expect(sha256).toMatch(/^[0-9a-f]{64}$/);
    await Deno.remove(path);
  });
  it("counts each capture of several files once, and names those that contradict", async () => {
    const way = (wavelength: number) => ({ settings: { wavelength } });
    const lines = (...outcomes: object[]) =>
      written(outcomes.map((each) => JSON.stringify(each)));
    const paths = [
      await lines(
        outcome("a", 1),
        outcome("b", 2),
        outcome("c", 3),
        { ...outcome("d", 4), ...way(650e-9) },
      ),
      await lines(
        outcome("a", 1),
        { ...failure, file: "b" },
        outcome("c", 3.5),
        { ...outcome("d", 4), ...way(660e-9) },
        outcome("e", 5),
        [],
      ),
    ];
    const batch = await readBatch(paths);
    expect(batch.outcomes.map(({ file, status }) => [file, status])).toEqual(
      ["a", "b", "c", "d", "e"].map((name) => [name, "measured"]),
    );
    expect(batch.brokenLines).toEqual([10]);
    const both = paths.map((path) => path.replace(/^.*\//, ""));
    expect(batch.conflicts).toEqual([
      { file: "c", in: both, differs: ["the results"] },
      { file: "d", in: both, differs: ["wavelength"] },
    ]);
    const { warnings } = summariseBatch(batch);
    const said = warnings.find(({ code }) => code === "conflicts")?.message;
    expect(said).toContain(`'c' in ${both.join(" and ")} (the results)`);
    for (const path of paths) await Deno.remove(path);
  });
  it("refuses a file without any outcome and says what to give", async () => {
    const path = await written(["time,volts", "0,1"]);
    await expect(readBatch(path)).rejects.toThrow("deno task measure");
    await Deno.remove(path);
  });
});

describe("the summary of a batch", () => {
  it("warns where captures were measured with different settings", () => {
    const batch = made([1, 2]);
    const [first, second] = batch.outcomes;
    const mixed = [
      { ...first!, settings: { wavelength: 650e-9, angle: null } },
      { ...second!, settings: { wavelength: 785e-9, angle: null } },
    ];
    const { warnings } = summariseBatch({ ...batch, outcomes: mixed });
    const found = warnings.find(({ code }) => code === "mixed-settings");
    expect(found?.message).toMatch(/other values of wavelength:/);
    expect(summariseBatch(batch).warnings).toEqual([]);
  });
  it("has the median and the scatter of SciPy", () => {
    const values = [4.1, 4.3, 3.9, 4.0, 4.4, 4.2, 9.0, 4.05];
    const { groups } = summariseBatch(made(values));
    // scipy.stats.median_abs_deviation(x, scale="normal"), SciPy 1.15; the
    // tolerance is rounding.
    expect(groups[0]!.median.value).toBeCloseTo(4.15, 12);
    expect(groups[0]!.scatter).toBeCloseTo(0.22239033277584017, 12);
  });
  it("flags a value with a modified z-score above 3.5 and no other", () => {
    const { groups, warnings } = summariseBatch(
      made([4.1, 4.3, 3.9, 4.0, 4.4, 4.2, 9.0, 4.05]),
    );
    expect(groups[0]!.outliers).toEqual(["6.wav"]);
    expect(warnings.map(({ code }) => code)).toEqual(["outliers"]);
    // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17 (Iglewicz and
    // Hoaglin): M = 0.6745 (x − median)/MAD, flagged above 3.5. Median 3, MAD
    // 1: M = 0.6745 · 5 = 3.37 is kept, 0.6745 · 5.5 = 3.71 is flagged.
    expect(summariseBatch(made([1, 2, 3, 4, 8])).groups[0]!.outliers).toEqual(
      [],
    );
    expect(summariseBatch(made([1, 2, 3, 4, 8.5])).groups[0]!.outliers)
      .toEqual(["4.wav"]);
  });
  it("leaves values that are not numbers out of the groups, not out of the rows", () => {
    const { groups, diagnostics } = summariseBatch(made([1, "NaN", 3]));
    expect(groups[0]!.count).toBe(2);
    expect(diagnostics.rows).toHaveLength(3);
  });
  it("counts each warning once per capture, and captures with doubtful results", () => {
    const warning = { code: "low-snr", severity: "doubtful", message: "low" };
    const note = { ...warning, code: "few", severity: "note" };
    const report = (warnings: unknown[]) => ({ headlines: [], warnings });
    const summary = summariseBatch({
      ...made([]),
      outcomes: [
        { ...outcome("a", 1), reports: [report([warning, note])] },
        {
          ...outcome("b", 1),
          reports: [report([warning]), report([warning])],
        },
        { ...outcome("c", 1), reports: [report([note])] },
      ],
    });
    expect(summary.doubtfulCount).toBe(2);
    expect(summary.warningCounts).toEqual([
      { code: "few", doubtful: false, count: 2 },
      { code: "low-snr", doubtful: true, count: 2 },
    ]);
  });
  it("survives reports of any form", () => {
    const reports = [null, 7, "x", {}, { headlines: 3, warnings: [null] }, {
      headlines: [null, {}, { value: "<b>", label: 3 }],
    }];
    const summary = summariseBatch({
      ...made([]),
      outcomes: [{ ...outcome("a", 1), reports }],
    });
    expect(summary.groups).toEqual([]);
  });
  it("of real captures counts what was measured, what failed and what is doubtful", async () => {
    const folder = fromFileUrl(datasetFolder);
    const output = await Deno.makeTempFile({ suffix: ".jsonl" });
    const names = ["disc-1.wav", "distance-a.csv"];
    await measureAll(
      readArguments([
        ...names.map((name) => join(folder, name)),
        "/no/such/file.csv",
        ...["--wavelength", "650nm", "--output", output],
      ])!,
      () => {},
    );
    const summary = summariseBatch(await readBatch(output));
    expect(summary.fileCount).toBe(3);
    expect(summary.measuredCount).toBe(2);
    expect(summary.doubtfulCount).toBe(0);
    expect(summary.failures[0]!.message).toMatch(/no such file/);
    const steps = summary.groups.find(({ name }) => name === "steps per ramp");
    expect(steps!.count).toBe(1);
    expect(String(await summary.figure("values"))).not.toBe("");
    const frame = await summary.toDataFrame() as { columns: string[] };
    expect(frame.columns).toContain("standardUncertainty");
    await Deno.remove(output);
  });
});
