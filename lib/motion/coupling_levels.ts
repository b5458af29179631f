import { checkpoint } from "../progress/mod.ts";
import { throughLevels } from "./level_rows.ts";
import type { SwingMiddle } from "./whole_swings.ts";

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
 * @param middles Middles of its whole swings.
 * @param samplingRate Samples per second, in Hz.
 * @returns The corner, or `null` where the levels show none.
 */
export function couplingLevels(
  signal: Float64Array,
  middles: readonly SwingMiddle[],
  samplingRate: number,
): CouplingLevels | null {
  if (middles.length < leastSwings) return null;
  const n = signal.length;
  const charge = chargeOf(signal, samplingRate);
  const levels = Float64Array.from(middles, ({ level }) => level);
  const size = charge.reduce((most, q) => Math.max(most, Math.abs(q)), 0);
  if (!(size > 0)) return null;
  const plain = middles.map(({ place, lean }) => [lean, 1, place / n]);
  const line = throughLevels(plain, levels);
  const course = throughLevels(
    middles.map(({ first, last }, k) => [
      ...plain[k]!,
      (charge[first]! + charge[last]!) / 2 / size,
    ]),
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

/** 2π ∫ y dt up to each sample, in the unit of y over Hz. */
function chargeOf(signal: Float64Array, samplingRate: number): Float64Array {
  const charge = new Float64Array(signal.length);
  const step = Math.PI / samplingRate;
  for (let i = 1; i < signal.length; i++) {
    if ((i & 0xffff) === 0) checkpoint(NaN, "look for a capacitor");
    charge[i] = charge[i - 1]! + step * (signal[i - 1]! + signal[i]!);
  }
  return charge;
}
