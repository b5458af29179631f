import { describe, expect, it } from "vitest";
import type { ZooRecord } from "./record.ts";
import { joinRuns, type ZooRun } from "./shards.ts";

const names = ["motion-0", "range-0", "speed-0"];

function record(name: string, outcome = "right", cpu = 1): ZooRecord {
  return { name, ours: { outcome, cpu }, scipy: null } as unknown as ZooRecord;
}

function part(
  fileName: string,
  records: ZooRecord[],
  own: Partial<ZooRun> = {},
) {
  return {
    fileName,
    run: { kind: "work" as const, settings: "a", records, ...own },
  };
}

describe("parts of the zoo", () => {
  it("are the whole together, in its order", () => {
    const joined = joinRuns([
      part("zoo-2-of-2.json", [record("range-0")]),
      part("zoo-1-of-2.json", [record("motion-0"), record("speed-0")]),
    ], names);
    expect(joined.records.map(({ name }) => name)).toEqual(names);
    expect(joined.missing).toEqual([]);
    expect(joined.conflicts).toEqual([]);
  });

  it("count each bench once, and name those that differ or are missing", () => {
    const { records, missing, conflicts } = joinRuns([
      part("one.json", [record("motion-0"), record("range-0")]),
      // The time that a bench takes may differ.
      part("two.json", [record("motion-0", "right", 2)]),
      part("three.json", [record("range-0", "warned")]),
    ], names);
    expect(records.map(({ ours }) => ours.outcome)).toEqual([
      "right",
      "warned",
    ]);
    expect(missing).toEqual(["speed-0"]);
    expect(conflicts).toEqual(["range-0 in three.json"]);
  });

  it("are refused together where they were made differently", () => {
    const first = part("one.json", [record("motion-0")]);
    for (
      const [own, why] of [
        [{ settings: "b" }, "other flags"],
        [{ kind: "kept" }, "other seeds"],
      ] as const
    ) {
      expect(() =>
        joinRuns([first, part("two.json", [record("range-0")], own)], names)
      ).toThrow(why);
    }
    expect(() => joinRuns([], names)).toThrow("no file was named");
  });
});
