import type { Family, MadeBench } from "./bench.ts";
import { Child } from "./child.ts";
import { judge } from "./judge.ts";
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
  /** Called after each bench. */
  readonly onRecord: (record: ZooRecord, done: number) => void;
}

/** CPU time that a capture may take, in s: ten times what is wanted at least. */
export function cpuLimit(samples: number): number {
  return 20 + 40 * samples / 1e6;
}

/** Makes, measures and judges benches; in the order asked for. */
export async function runZoo(options: RunOptions): Promise<ZooRecord[]> {
  const { kind, benches, python, lanes, onRecord } = options;
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
      const made = await maker.ask<MadeBench>({ kind, ...benches[at], folder });
      const limit = cpuLimit(made!.bench.samples);
      const found = await worker.ask<Found>(made, limit);
      const record = await judge(made!, found, limit);
      records[at] = record;
      onRecord(record, ++done);
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
