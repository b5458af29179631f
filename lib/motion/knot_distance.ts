import { checkpoint } from "../progress/mod.ts";

/** Knots closer than so many of the shortest half fringes raise a doubt … */
const loosest = 2;
/** … where so many fit between two turns of the target. */
const mostKnots = 12;
/** With less noise than this a wrong reading shows through any knots (1). */
const leastNoise = 2e-4;

/**
 * Whether the knots are closer than a steady motion asks for, so that the fit may
 * follow a wrong reading or a change of the light.
 *
 * @param course φ0 along the record, in rad; all samples or one per knot.
 * @param fit Samples between knots and of the shortest half fringe, and what the
 * fit leaves over the amplitude (1).
 * @returns Whether they are.
 */
export function knotsAreClose(
  course: Float64Array,
  { spacing, fastest, relativeNoise, sampleCount = course.length }: {
    readonly spacing: number;
    readonly fastest: number;
    readonly relativeNoise: number;
    readonly sampleCount?: number;
  },
): boolean {
  return relativeNoise >= leastNoise && spacing < loosest * fastest &&
    mostKnots * spacing * (1 + turnsOf(course)) < sampleCount;
}

/** How often the way back is longer than a fringe. */
function turnsOf(phase: Float64Array): number {
  let turns = 0;
  let way = 0;
  let outermost = phase[0]!;
  for (let i = 0; i < phase.length; i++) {
    if ((i & 0x3ffff) === 0x3ffff) checkpoint();
    const value = phase[i]!;
    if (way * (value - outermost) >= 0 && way !== 0) outermost = value;
    else if (Math.abs(value - outermost) > 2 * Math.PI) {
      if (way !== 0) turns++;
      way = Math.sign(value - outermost);
      outermost = value;
    }
  }
  return turns;
}
