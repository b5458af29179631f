import { compareRuns, comparisonTable, signTest } from "./compare.ts";
import type { ZooRecord } from "./record.ts";
import { textOf } from "./cell_table.ts";

/** A bench of the grid or the joint trial: what is kept of it as a golden. */
export type GoldenRecord = Pick<ZooRecord, "name" | "motion" | "draw" | "ours">;

/** The goldens: what the library reached when they were written. */
export const goldenFiles = {
  grid: new URL("../motion/fixtures/grid_golden.json", import.meta.url),
  joint: new URL("../range/fixtures/joint_golden.json", import.meta.url),
} as const;

/** Reads goldens. */
export async function readGolden(
  which: keyof typeof goldenFiles,
): Promise<GoldenRecord[]> {
  try {
    return JSON.parse(await Deno.readTextFile(goldenFiles[which]));
  } catch (error) {
    if (!(error instanceof Deno.errors.NotFound)) throw error;
    throw new Error(
      `There are no goldens of the ${which} trial yet: write them with deno task goldens --write`,
    );
  }
}

/** Writes goldens, a bench per line. */
export async function writeGolden(
  which: keyof typeof goldenFiles,
  records: readonly GoldenRecord[],
): Promise<void> {
  const lines = records.map((record) =>
    JSON.stringify(
      record,
      (_, value) =>
        typeof value === "number" && Number.isFinite(value)
          ? Number(value.toPrecision(6))
          : value,
    )
  );
  await Deno.writeTextFile(goldenFiles[which], `[\n${lines.join(",\n")}\n]\n`);
}

/**
 * Holds records against the goldens: what is worse beyond chance (5 %). The seeds
 * are the same, so a line of the table is a change of the library; whether it is a
 * loss on benches like these is what the test says.
 */
export async function againstGolden(
  which: keyof typeof goldenFiles,
  records: readonly GoldenRecord[],
): Promise<{ text: string; worse: string[] }> {
  const before = await readGolden(which);
  const c = compareRuns(records, before);
  const worse: string[] = [];
  const hold = (what: string, up: number, down: number) => {
    if (down > up && signTest(up, down) < 0.05) {
      worse.push(`${what}: ${up} better, ${down} worse`);
    }
  };
  hold("right", c.gained.length, c.lost.length);
  hold("not confident and wrong", c.calmed, c.alarmed);
  // A percent more is the least that matters.
  if (c.errorRatio > 1.01) hold("error", c.closer, c.further);
  return { text: textOf(comparisonTable(records, before)), worse };
}
