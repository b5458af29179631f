import { followFeedback } from "./feedback_course.ts";
import type { TypicalStroke } from "./typical_stroke.ts";

/** Shift between the directions that a lag may make, on the ramp (1). */
const usualLag = 0.03;

/** Parameters of a guess; the directions share all but the places. */
export interface GuessParameters {
  /** Feedback parameter C (1). */
  readonly c: number;
  /** Steps per ramp (1). */
  readonly steps: number;
  /** Phase at the middle of the ramp below the hop, in rad. */
  readonly offset: number;
  /** Phase step, in turns, on the way that the phase runs (1). */
  readonly turns: number;
  /** Where rising and falling strokes hop, from -1 to 1 on the ramp (1). */
  readonly up: number;
  readonly down: number;
  /** Shift of the rising against the falling strokes, on the ramp (1). */
  readonly lag: number;
}

/** Sums over samples: of c², cs, s², cy, sy, and of c and s with the ramp. */
export type Sums = Float64Array;
export const sumCount = 9;

/**
 * The fringes on a member, as they are from its start on, or, from some turns
 * before, as they are once they run on the one way.
 */
export function courseOf(
  { x, direction }: TypicalStroke,
  { c, steps, offset, turns, lag }: Omit<GuessParameters, "up" | "down">,
  before = 0,
) {
  const way = direction === "up" ? 1 : -1;
  const rate = Math.PI * steps;
  const start = offset + rate * way * lag;
  const t = new Float64Array(x.length);
  for (let i = 0; i < t.length; i++) {
    t[i] = start - rate * x[i]! - way * 2 * Math.PI * turns;
  }
  // The ramp turned round at its end.
  const turn = start + way * (rate + 2 * Math.PI * before);
  return followFeedback(x, t, turn, c, null);
}

export function addSums(
  sums: Sums,
  at: number,
  { ramp, y, envelope }: TypicalStroke,
  i: number,
  cosine: number,
  sine: number,
) {
  const c = envelope[i]! * cosine;
  const s = envelope[i]! * sine;
  const [p, q] = [ramp[0][i]!, ramp[1][i]!];
  sums[at]! += c * c;
  sums[at + 1]! += c * s;
  sums[at + 2]! += s * s;
  sums[at + 3]! += c * y[i]!;
  sums[at + 4]! += s * y[i]!;
  sums[at + 5]! += p * c;
  sums[at + 6]! += q * c;
  sums[at + 7]! += p * s;
  sums[at + 8]! += q * s;
}

/**
 * By how much fringes explain a signal; 0 where that is less than it must be, or
 * they lean as no diode's do.
 */
export function explained(
  cc: number,
  cs: number,
  ss: number,
  cy: number,
  sy: number,
  sign: number,
  atLeast = 0,
): number {
  const below = cc * ss - cs * cs;
  if (!(below > 1e-9 * cc * ss)) return 0;
  const a = (ss * cy - cs * sy) / below;
  const b = (cc * sy - cs * cy) / below;
  const value = a * cy + b * sy;
  if (value <= atLeast) return 0;
  const angle = Math.atan2(sign * b, sign * a);
  return angle > -0.4 && angle < Math.PI / 2 + 0.4 ? value : 0;
}

/** What parameters leave on all members together. */
export function costOf(
  members: readonly TypicalStroke[],
  at: GuessParameters,
  noise: number,
) {
  let [total, cc, cs, ss, cy, sy] = [0, 0, 0, 0, 0, 0];
  for (const member of members) {
    const { direction, place, x, y } = member;
    const rising = direction === "up";
    // The stroke starts on the one side and runs on to the other.
    const offset = rising ? at.offset : at.offset - 2 * Math.PI * at.turns;
    const [first, second] = [0, at.turns].map((turns) =>
      courseOf(member, { ...at, offset, turns })
    );
    const sums = new Float64Array(sumCount);
    for (let i = 0; i < x.length; i++) {
      const above = place[i]! > (rising ? at.up : at.down);
      const { cosine, sine } = above === rising ? second! : first!;
      addSums(sums, 0, member, i, cosine[i]!, sine[i]!);
      total += y[i]! ** 2;
    }
    const [pc, qc, ps, qs] = [sums[5]!, sums[6]!, sums[7]!, sums[8]!];
    cc += sums[0]! - pc * pc - qc * qc;
    cs += sums[1]! - pc * ps - qc * qs;
    ss += sums[2]! - ps * ps - qs * qs;
    cy += sums[3]!;
    sy += sums[4]!;
  }
  return total - explained(cc, cs, ss, cy, sy, members[0]!.sign) +
    noise * (at.lag / usualLag) ** 2;
}
