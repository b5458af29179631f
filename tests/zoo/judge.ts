import { type MadeBench, readNumbers } from "./bench.ts";
import { faultsOf } from "./faults.ts";
import type { Found } from "./measure.ts";
import { pictureOf } from "./picture.ts";
import type { Interval, Outcome, Verdict, ZooRecord } from "./record.ts";

/** Fringes that a right result may be off: a tenth. */
export const rightWithin = 0.1;
/** Part that a right speed may be off: published instruments reach 1 %. */
export const speedWithin = 0.01;

/** What one side says of a bench, before it is compared with the truth. */
interface Answer {
  readonly course: Float64Array | null;
  readonly told: boolean;
  readonly value: number | null;
  readonly refused: string | null;
  /** Twice the stated uncertainty, in the unit of the error; `null` for none. */
  readonly expanded: number | null;
  readonly doubts: readonly string[];
  readonly cpu: number;
}

/** Compares both sides with the truth. `found` is `null` where it was stopped. */
export async function judge(
  made: MadeBench,
  found: Found | null,
  cpuLimit: number,
): Promise<ZooRecord> {
  const { bench } = made;
  const ours = found === null
    ? stopped(cpuLimit)
    : await judgeOurs(made, found);
  return {
    name: made.name,
    family: bench.family,
    motion: bench.motion,
    feedbackClass: bench.feedbackClass,
    noiseClass: bench.noiseClass,
    samples: bench.samples,
    draw: bench,
    ours,
    scipy: await judgeScript(made),
    intervals: found === null ? {} : intervalsOf(made, found),
    samplesHeld: found?.samplesHeld ?? null,
    course: made.measurement === "displacement" && found?.course
      ? faultsOf(
        await readNumbers(found.course),
        await readNumbers(made.files["way"]!),
        bench.wavelength / 2,
        bench.samplesPerFringe,
      )
      : null,
    hops: made.measurement === "steps" && found !== null &&
        made.truth["hops"] !== undefined
      ? { planted: made.truth["hops"], found: found.numbers["hops"] ?? 0 }
      : null,
    making: made.cpu.simulation + made.cpu.bound,
    picture: ours.outcome === "right" ? null : await pictureOf(made, found),
  };
}

const stopped = (cpu: number): Verdict => ({
  outcome: "too slow",
  error: null,
  overBound: null,
  doubted: true,
  warnings: [],
  cpu,
  reason: "stopped",
});

async function judgeOurs(made: MadeBench, found: Found): Promise<Verdict> {
  if (found.numbers["crashed"] === 1) {
    return {
      ...stopped(found.cpu),
      outcome: "confident",
      doubted: false,
      reason: `crashed: ${found.warnings[0]!.code}`,
    };
  }
  const main = mainQuantity(made);
  const stated = main === null ? undefined : found.quantities[main];
  return verdict(made, {
    course: found.course === null ? null : await readNumbers(found.course),
    told: found.told,
    value: stated?.value ?? null,
    refused: found.numbers["distanceRefused"] === 1
      ? "the distance is refused"
      : found.refused,
    expanded: stated !== undefined
      ? stated.k * stated.u
      : found.rmsUncertainty === null
      ? null
      : 2 * found.rmsUncertainty,
    doubts: found.warnings.filter(({ severity }) => severity === "doubtful")
      .map(({ code }) => code),
    cpu: found.cpu,
  });
}

/** Compares what the script found with the truth. */
export async function judgeScript(made: MadeBench): Promise<Verdict> {
  const { found, told, refused, cpu } = made.scipy;
  const main = mainQuantity(made);
  const file = made.files["scipy"];
  return verdict(made, {
    course: file === undefined ? null : await readNumbers(file),
    told,
    value: main === null ? null : found[main] ?? null,
    refused,
    expanded: null,
    doubts: [],
    cpu,
  });
}

function mainQuantity({ measurement }: MadeBench): string | null {
  return measurement === "steps"
    ? "stepsPerCurrent"
    : measurement === "speed"
    ? "speed"
    : null;
}

async function verdict(made: MadeBench, answer: Answer): Promise<Verdict> {
  const { doubts, cpu, refused } = answer;
  const base = { doubted: doubts.length > 0, warnings: doubts, cpu };
  const dark = made.bench.motion.startsWith("no light");
  if (refused !== null) {
    const outcome: Outcome = dark ? "right" : "refused";
    return { ...base, outcome, error: null, overBound: null, reason: refused };
  }
  if (dark) {
    const outcome: Outcome = doubts.length > 0 ? "right" : "confident";
    return { ...base, outcome, error: null, overBound: null, reason: null };
  }
  const { error, scale, seen } = await errorOf(made, answer);
  const overBound = made.bound === null || !Number.isFinite(error)
    ? null
    : error * scale.bound / made.bound;
  const reason = seen < 0.8 ? `a value in ${(100 * seen).toFixed(0)} %` : null;
  const outcome: Outcome = reason !== null
    ? "refused"
    : error <= 1 * scale.right
    ? "right"
    : base.doubted
    ? "warned"
    : answer.expanded !== null && error <= answer.expanded * scale.expanded
    ? "within U"
    : "confident";
  return {
    ...base,
    outcome,
    error: Number.isFinite(error) ? error : null,
    overBound,
    reason,
  };
}

/**
 * The error, in fringes (a speed: in parts of 1 %), how to compare it, and the
 * share of the record that has a value.
 */
async function errorOf(made: MadeBench, answer: Answer) {
  const { bench, truth, measurement } = made;
  if (measurement === "displacement") {
    const half = bench.wavelength / 2;
    const way = await readNumbers(made.files["way"]!);
    // Where the sense is said to be unknown, the motion may be mirrored.
    const signs = answer.told ? [1] : [1, -1];
    const rms = Math.min(
      ...signs.map((s) => deviation(answer.course!, way, s)),
    );
    return {
      error: rms / half,
      scale: { right: rightWithin, bound: half, expanded: 1 / half },
      seen: share(answer.course!),
    };
  }
  if (measurement === "steps") {
    const span = bench.high! - bench.low!;
    const steps = truth["stepsPerCurrent"]! * span;
    return {
      error: Math.abs(answer.value! - truth["stepsPerCurrent"]!) * span,
      scale: { right: rightWithin, bound: 1 / steps, expanded: span },
      seen: 1,
    };
  }
  const right = 1;
  if (measurement === "speed") {
    const speed = truth["speed"]!;
    return {
      error: Math.abs(answer.value! / speed - 1) / speedWithin,
      scale: {
        right,
        bound: speedWithin,
        expanded: 1 / speed / speedWithin,
      },
      seen: 1,
    };
  }
  const speed = await readNumbers(made.files["speed"]!);
  const { error, seen } = trackError(answer.course!, speed, bench.samplingRate);
  return {
    error: error / (2 * speedWithin),
    scale: { right, bound: NaN, expanded: 1 },
    seen,
  };
}

/** Rms of sign·a − b without its mean, `NaN` left out. */
export function deviation(a: Float64Array, b: Float64Array, sign: number) {
  let n = 0, sum = 0, squares = 0;
  for (let i = 0; i < a.length; i++) {
    const d = sign * a[i]! - b[i]!;
    if (d !== d) continue;
    n++;
    sum += d;
    squares += d * d;
  }
  return Math.sqrt(Math.max(0, squares / n - (sum / n) ** 2));
}

function share(values: Float64Array): number {
  return values.filter((v) => v === v).length / values.length;
}

/**
 * Rms of the speeds (times first, then values) over the highest true one. Where
 * the true one is below a tenth of that no line need be seen.
 */
function trackError(
  course: Float64Array,
  speed: Float64Array,
  samplingRate: number,
) {
  const frames = course.length / 2;
  const highest = speed.reduce((most, v) => Math.max(most, Math.abs(v)), 0);
  const errors: number[] = [];
  let lost = 0;
  for (let k = 0; k < frames; k++) {
    const at = Math.round(course[k]! * samplingRate);
    const truth = Math.abs(speed[Math.min(speed.length - 1, at)]!);
    if (truth < 0.1 * highest) continue;
    const value = Math.abs(course[frames + k]!);
    if (value === value) errors.push(value - truth);
    else lost++;
  }
  const rms = Math.sqrt(
    errors.reduce((sum, e) => sum + e * e, 0) / errors.length,
  );
  return {
    error: rms / highest,
    seen: errors.length / Math.max(1, errors.length + lost),
  };
}

/** Every stated interval whose truth is known. */
function intervalsOf(made: MadeBench, found: Found): Record<string, Interval> {
  const intervals: Record<string, Interval> = {};
  for (const [name, { value, u, k }] of Object.entries(found.quantities)) {
    const truth = made.truth[name];
    if (truth === undefined || !found.told && name !== "peakToPeak") continue;
    intervals[name] = {
      value,
      truth,
      u,
      // Stated with k = 2 the interval is one of 95.45 %; 1.96 makes it 95 %.
      holds: Number.isFinite(u)
        ? Math.abs(value - truth) <= (k === 2 ? 1.96 : k) * u
        : null,
    };
  }
  return intervals;
}
