import { describe, expect, it } from "vitest";
import { countFringes } from "fringebook";
import { againstGolden, type GoldenRecord } from "../zoo/golden.ts";
import { gridBench, gridRecord, judge, type Outcome } from "./grid_bench.ts";
import { type Scenario, trialCount, wavelength } from "./scenario.ts";

const feedbackClasses = [0.05, 0.2, 0.6, 0.95, 1.2, 2.5, 6] as const;
const noiseClasses = [12, 20, 30, 60] as const;

const classOf = (edges: readonly number[], value: number) =>
  Math.min(
    edges.length - 2,
    edges.findLastIndex((edge) => value >= edge),
  );

describe("displacement over the whole grid", () => {
  it("is right, or says that it is not, and no worse than the goldens beyond chance", async () => {
    const count = trialCount(200);
    const table = new Map<string, Record<Outcome, number>>();
    const total: Record<Outcome, number> = {
      right: 0,
      honest: 0,
      warned: 0,
      refused: 0,
      confident: 0,
    };
    const benches = { clean: 0, speckle: 0 };
    const confident = { clean: 0, speckle: 0 };
    const right = { clean: 0, speckle: 0 };
    let fringes = 0;
    let found = 0;
    const records: GoldenRecord[] = [];
    for (let seed = 1; seed <= count; seed++) {
      const bench = gridBench(seed);
      const judged = judge(bench);
      const { outcome, ratio, note } = judged;
      records.push(gridRecord(seed, bench, judged));
      total[outcome]++;
      const kind = bench.contrast > 0 ? "speckle" : "clean";
      benches[kind]++;
      if (outcome === "confident") confident[kind]++;
      if (outcome === "right") right[kind]++;
      const key = `${classOf(feedbackClasses, bench.feedbackParameter)} ${
        bench.contrast > 0 ? "speckle" : classOf(noiseClasses, bench.snr)
      }`;
      const row = table.get(key) ??
        { right: 0, honest: 0, warned: 0, refused: 0, confident: 0 };
      row[outcome]++;
      table.set(key, row);
      if (outcome !== "right") {
        console.log(
          `seed ${seed}: ${outcome}, C ${
            bench.feedbackParameter.toFixed(3)
          }, α ${bench.linewidthEnhancementFactor.toFixed(1)}, ${
            (bench.amplitude * 1e6).toFixed(2)
          } µm, ${bench.snr.toFixed(0)} dB, contrast ${
            bench.contrast.toFixed(2)
          }: ${ratio.toFixed(1)} times the bound; ${note}`,
        );
      }
      if (bench.snr >= 20 && bench.contrast === 0) {
        const { all, right } = fringesOf(bench);
        fringes += all;
        found += right;
      }
    }
    console.log(JSON.stringify({ total, benches, confident }));
    console.table(
      Object.fromEntries(
        feedbackClasses.slice(0, -1).map((from, c) => [
          `C ${from}–${feedbackClasses[c + 1]}`,
          Object.fromEntries(
            [...noiseClasses.slice(0, -1).keys(), "speckle"].map((s) => [
              s === "speckle"
                ? "speckle"
                : `${noiseClasses[s as number]}–${
                  noiseClasses[(s as number) + 1]
                } dB`,
              Object.entries(table.get(`${c} ${s}`) ?? {}).filter(([, n]) =>
                n > 0
              ).map(([outcome, n]) => `${n} ${outcome}`).join(", "),
            ]),
          ),
        ]),
      ),
    );
    console.log(
      `fringes at 20 dB and more, no speckle: ${found} of ${fringes} (${
        (100 * found / fringes).toFixed(3)
      } %) with the right sign`,
    );
    // The aim is none. The shares hold for more seeds than the goldens' too.
    expect(confident.clean / benches.clean).toBeLessThan(0.02);
    expect(confident.speckle / benches.speckle).toBeLessThan(0.05);
    expect(right.clean / benches.clean).toBeGreaterThan(0.9);
    expect(right.speckle / benches.speckle).toBeGreaterThan(0.6);
    expect(found / fringes).toBeGreaterThan(0.999);
    const { text, worse } = await againstGolden("grid", records);
    console.log(text);
    expect(worse).toEqual([]);
  });
});

/** Fringes passed, and those that were found with their sign. */
function fringesOf({ capture }: Scenario): { all: number; right: number } {
  const result = countFringes(capture, { wavelength });
  const { phase } = capture.truth;
  const all = pathOf(phase);
  if (!result.directionDetermined) return { all: 0, right: 0 };
  const wrong = result.warnings.some(({ severity }) => severity === "doubtful")
    ? 0
    : Math.abs(result.fringeCount.value - all);
  return { all, right: Math.max(0, all - wrong) };
}

/** Total way, in fringes. */
function pathOf(phase: Float64Array): number {
  let path = 0;
  for (let i = 1; i < phase.length; i++) {
    path += Math.abs(phase[i]! - phase[i - 1]!);
  }
  return path / (2 * Math.PI);
}
