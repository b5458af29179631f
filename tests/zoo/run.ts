import type { Family, MadeBench } from "./bench.ts";
import { Child } from "./child.ts";
import { judge, judgeScript } from "./judge.ts";
import type { Found } from "./measure.ts";
import type { ZooRecord } from "./record.ts";

/** What to run. */
export interface RunOptions {
  /** Seeds for work, or those kept for the count. */
  readonly kind: "work" | "kept";
  /** Benches, as family and number. */
  readonly benches: readonly {
    family: Family;
    number: number;
    /** What to change in what was drawn: one thing at a time finds a cause. */
    change?: Readonly<Record<string, unknown>>;
  }[];
  /** The Python with SciPy. */
  readonly python: string;
  /** Processes of the library at a time. */
  readonly lanes: number;
  /** Records by name whose side of the library is taken as it is. */
  readonly known: ReadonlyMap<string, ZooRecord>;
  /** Whether the bound of each bench is computed. */
  readonly bounds: boolean;
  /** Called after each bench. */
  readonly onRecord: (record: ZooRecord, done: number) => Promise<void>;
}

/** CPU time that a capture may take, in s: ten times what is wanted at least. */
export function cpuLimit(samples: number): number {
  return 20 + 40 * samples / 1e6;
}

/** Makes, measures and judges benches; in the order asked for. */
export async function runZoo(options: RunOptions): Promise<ZooRecord[]> {
  const { kind, benches, python, lanes, known, bounds, onRecord } = options;
  const parent = await Deno.makeTempDir({ prefix: "zoo-" });
  const here = new URL("./", import.meta.url).pathname;
  const records: ZooRecord[] = [];
  let next = 0, done = 0;
  const lane = async (_: unknown, number: number) => {
    // Of its own: two lanes may work on changes of the same bench.
    const folder = `${parent}/${number}`;
    await Deno.mkdir(folder);
    const maker = new Child(python, [`${here}make.py`], {
      OPENBLAS_NUM_THREADS: "1",
      OMP_NUM_THREADS: "1",
    });
    const worker = new Child(Deno.execPath(), [
      "run",
      "-A",
      "--no-check",
      `${here}worker.ts`,
    ]);
    while (next < benches.length) {
      const at = next++;
      const bench = benches[at]!;
      const before = known.get(`${bench.family}-${bench.number}`);
      const made = await maker.ask<MadeBench>({
        kind,
        ...bench,
        folder,
        bound: bounds && before === undefined,
      });
      const limit = cpuLimit(made!.bench.samples);
      const record = before !== undefined
        ? { ...before, scipy: await judgeScript(made!), picture: null }
        : await judge(made!, await worker.ask<Found>(made, limit), limit);
      records[at] = record;
      await onRecord(record, ++done);
      await Promise.all(
        Object.values(made!.files).map((file) => Deno.remove(file)),
      );
    }
    await maker.close();
    await worker.close();
  };
  try {
    await Promise.all(Array.from({ length: lanes }).map(lane));
  } finally {
    await Deno.remove(parent, { recursive: true });
  }
  return records;
}
