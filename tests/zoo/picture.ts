import { type MadeBench, readNumbers } from "./bench.ts";
import type { Found } from "./measure.ts";

/** A bench for the eye: curves of a few hundred points. */
export interface Picture {
  /** Time between points of the courses, in s. */
  readonly step: number;
  /** Courses in fringes (speeds: in m/s), the first values taken off. */
  readonly courses: readonly {
    readonly name: string;
    readonly values: readonly number[];
  }[];
  /** A few fringes of the monitor signal, in V. */
  readonly signal: readonly number[];
  /** Time between the samples of the signal, in s. */
  readonly signalStep: number;
}

const points = 500;

/** Reads what a picture needs before the files go. */
export async function pictureOf(
  made: MadeBench,
  found: Found | null,
): Promise<Picture> {
  const { files, bench } = made;
  const monitor = await readNumbers(files["monitor"]!);
  const courses: { name: string; values: number[] }[] = [];
  const half = bench.wavelength / 2;
  if (files["way"] !== undefined) {
    const truth = await readNumbers(files["way"]);
    const add = (name: string, values: Float64Array) => {
      courses.push({ name, values: thin(values, half, truth) });
    };
    add("truth", truth);
    if (found?.course) add("library", await readNumbers(found.course));
    if (files["scipy"] !== undefined) {
      add("SciPy", await readNumbers(files["scipy"]));
    }
  }
  // Some 12 fringes from the middle.
  const window = Math.min(
    monitor.length,
    Math.max(200, Math.round(12 * bench.samplesPerFringe)),
    1500,
  );
  const from = (monitor.length - window) >> 1;
  return {
    step: monitor.length / points / bench.samplingRate,
    courses,
    signal: Array.from(monitor.subarray(from, from + window)),
    signalStep: 1 / bench.samplingRate,
  };
}

/** Evenly spaced values in fringes, moved so that the medians agree. */
function thin(
  values: Float64Array,
  half: number,
  truth: Float64Array,
): number[] {
  const at = Array.from(
    { length: points },
    (_, k) => Math.floor(k * values.length / points),
  );
  const off = at.map((i) => values[i]! - truth[i]!).filter(Number.isFinite)
    .toSorted((a, b) => a - b);
  const shift = off[off.length >> 1] ?? 0;
  return at.map((i) =>
    Math.round(1e3 * (values[i]! - shift - truth[0]!) / half) / 1e3
  );
}
