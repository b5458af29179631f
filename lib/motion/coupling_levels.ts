import { undoCoupling } from "../signal/mod.ts";
import { isCoupled } from "./coupled_signal.ts";
import { detectFringes, type Detection } from "./detection.ts";
import { robustLevels } from "./robust_levels.ts";
import { type SwingMiddle, wholeSwings } from "./whole_swings.ts";

/** Whole swings, at least: 61 of a decay gave a corner of half the true one. */
const leastSwings = 100;
/**
 * Scatter about the course over that about a line, at most (1): capacitors of the zoo
 * that matter leave 0.3 to 0.75, all others more than 0.9.
 */
const mostScatter = 0.8;

/** What a coupling capacitor did to the levels of the fringes. */
export interface CouplingLevels {
  /** Its corner, in Hz. */
  readonly corner: number;
  /** What it took of each sample, in the unit of the signal. */
  readonly taken: Float64Array;
}

/**
 * The corner of a coupling capacitor that was not stated, from the middles of whole
 * fringes. Behind it y = s - 2π f ∫ y dt, so the middles of y follow the integral
 * of y, which is known, by a factor that is the corner f.
 *
 * @param signal The signal, without gaps.
 * @param detection Its fringes.
 * @param samplingRate Samples per second, in Hz.
 * @returns The corner, or `null` where the levels show none.
 */
export function couplingLevels(
  signal: Float64Array,
  { extremes, scale }: Detection,
  samplingRate: number,
): CouplingLevels | null {
  if (!isCoupled(scale)) return null;
  // What a capacitor takes per Hz of its corner.
  const charge = undoCoupling(signal, 1, { samplingRate })
    .map((value, i) => value - signal[i]!);
  const first = cornerOf(charge, wholeSwings(extremes));
  if (first === null) return null;
  // Extremes lie elsewhere once the capacitor is undone.
  const { taken } = first;
  const undone = detectFringes(signal.map((value, i) => value + taken[i]!));
  if (undone === null) return null;
  const middles = wholeSwings(undone.extremes).map((middle) => ({
    ...middle,
    level: middle.level - meanAt(taken, middle),
  }));
  return cornerOf(charge, middles) ?? first;
}

/** Mean of a course at both extremes of a swing. */
function meanAt(
  course: Float64Array,
  { first, last }: Pick<SwingMiddle, "first" | "last">,
): number {
  return (course[first]! + course[last]!) / 2;
}

/** The corner by which middles follow a course; `null` where they do not. */
function cornerOf(
  charge: Float64Array,
  middles: readonly SwingMiddle[],
): CouplingLevels | null {
  if (middles.length < leastSwings) return null;
  const n = charge.length;
  const levels = Float64Array.from(middles, ({ level }) => level);
  const size = charge.reduce((most, q) => Math.max(most, Math.abs(q)), 0);
  if (!(size > 0)) return null;
  const plain = middles.map(({ place, lean }) => [lean, 1, place / n]);
  const line = robustLevels(plain, levels);
  const course = robustLevels(
    middles.map((middle, k) => [...plain[k]!, meanAt(charge, middle) / size]),
    levels,
  );
  if (
    line === null || course === null ||
    !(course.scatter < mostScatter * line.scatter)
  ) return null;
  const slope = course.coefficients[2]!;
  const corner = -course.coefficients[3]! / size;
  if (!(corner > 0)) return null;
  // What drifts comes from the constant of the integral.
  const taken = charge.map((q, i) => corner * q - slope * i / n);
  return { corner, taken };
}
