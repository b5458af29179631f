import { parseArgs } from "@std/cli/parse-args";
import { gridBench, gridRecord, judge } from "../motion/grid_bench.ts";
import { createBenches } from "../range/joint_bench.ts";
import { jointRecord, measureJoint } from "../range/joint_records.ts";
import { againstGolden, type GoldenRecord, writeGolden } from "./golden.ts";

const help = `deno task goldens [options]
Measures the 200 benches of the grid and the 160 of the joint trial, and says what
is better and worse than when the goldens were written.

  --write      write the goldens anew
  --only NAME  grid or joint`;

const args = parseArgs(Deno.args, {
  boolean: ["write", "help"],
  string: ["only"],
});
if (args.help) {
  console.log(help);
  Deno.exit(0);
}

const runs: Readonly<Record<"grid" | "joint", () => GoldenRecord[]>> = {
  grid: () =>
    Array.from({ length: 200 }, (_, k) => {
      const bench = gridBench(k + 1);
      return gridRecord(k + 1, bench, judge(bench));
    }),
  joint: () => {
    const next = createBenches(20261125);
    return Array.from({ length: 160 }, () => jointRecord(measureJoint(next())));
  },
};

for (const which of ["grid", "joint"] as const) {
  if (args.only !== undefined && args.only !== which) continue;
  const records = runs[which]();
  if (args.write) {
    await writeGolden(which, records);
    continue;
  }
  const { text, worse } = await againstGolden(which, records);
  console.log(`${which}\n${text}`);
  for (const line of worse) console.log(`worse beyond chance: ${line}`);
}
