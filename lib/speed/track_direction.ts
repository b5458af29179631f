import { checkpoint } from "../progress/mod.ts";
import { normalProbability, studentQuantile } from "../fit/mod.ts";
import type { Direction } from "./direction.ts";

/** Evidence for the direction over some pieces of the record. */
export interface FrameEvidence {
  /** Im(X(f)² X*(2f)) / |X(f)|², piece by piece, summed. */
  readonly sum: number;
  /** Sum of its squares. */
  readonly squares: number;
  /** Pieces counted. */
  readonly count: number;
}

/** Periods of the line in one piece: long enough to part it from its harmonic. */
const periods = 24;
/** Most pieces looked at in one stretch. */
const mostPieces = 1200;

/**
 * Saw-tooth evidence of a followed line over a stretch of frames: in short
 * pieces, shorter than a speckle grain lasts, the line and its second harmonic
 * are taken at the tracked frequency, see {@linkcode directionFromHarmonic}.
 * The pieces do not overlap.
 */
export function frameEvidence(
  samples: Float64Array,
  samplingRate: number,
  time: Float64Array,
  frequency: Float64Array,
  from: number,
  to: number,
): FrameEvidence {
  let sum = 0, squares = 0, count = 0;
  if (to - from < 1) return { sum, squares, count };
  const frameStep = time.length > 1 ? time[1]! - time[0]! : Infinity;
  const end = (time[to - 1]! + frameStep / 2) * samplingRate;
  let start = Math.max(0, (time[from]! - frameStep / 2) * samplingRate);
  const least = (end - start) / mostPieces;
  while (start < end) {
    if (count % 64 === 0) checkpoint(NaN, "track the speed");
    const near = Math.round((start / samplingRate - time[0]!) / frameStep);
    const f = frequency[Math.max(from, Math.min(to - 1, near))]!;
    if (Number.isNaN(f) || 2 * f > 0.48 * samplingRate) {
      start += Math.max(least, frameStep * samplingRate / 4, 1);
      continue;
    }
    const length = Math.max(32, Math.round(periods * samplingRate / f));
    if (start + length > Math.min(samples.length, end)) break;
    const value = harmonicSine(
      samples,
      Math.round(start),
      length,
      f / samplingRate,
    );
    sum += value;
    squares += value * value;
    count++;
    start += Math.max(length, least);
  }
  return { sum, squares, count };
}

/** Direction from evidence whose sign counts as receding where positive. */
export function decideDirection(
  evidence: readonly FrameEvidence[],
  polarity: 1 | -1,
): { direction: Direction; significance: number } {
  const total = { sum: 0, squares: 0, count: 0 };
  for (const one of evidence) {
    total.sum += one.sum;
    total.squares += one.squares;
    total.count += one.count;
  }
  const significance = total.squares > 0
    ? Math.abs(total.sum) / Math.sqrt(total.squares)
    : 0;
  if (total.count < 8 || significance < significanceOf(total.count)) {
    return { direction: "not determined", significance };
  }
  return {
    direction: polarity * total.sum > 0 ? "receding" : "approaching",
    significance,
  };
}

/** Standard deviations of chance from which on a direction is told (1). */
const sureSignificance = 4.5;

/**
 * The same of n pieces. |Σx|/√(Σx²) is at most √n, where all agree: with few pieces
 * so much as 4.5 is never reached. Student's t = r √((n - 1)/(n - r²)) has the
 * probability of 4.5 standard deviations.
 */
function significanceOf(count: number): number {
  const t = -studentQuantile(normalProbability(-sureSignificance), count - 1);
  return t * Math.sqrt(count / (count - 1 + t * t));
}

function harmonicSine(
  samples: Float64Array,
  start: number,
  length: number,
  turns: number,
): number {
  const angle = 2 * Math.PI * turns;
  const cs = Math.cos(angle), sn = Math.sin(angle);
  let c = 1, s = 0;
  let r1 = 0, i1 = 0, r2 = 0, i2 = 0;
  for (let n = 0; n < length; n++) {
    const window = 0.5 - 0.5 * Math.cos(2 * Math.PI * n / length);
    const value = window * (samples[start + n] ?? 0);
    r1 += value * c;
    i1 -= value * s;
    r2 += value * (c * c - s * s);
    i2 -= value * 2 * c * s;
    [c, s] = [c * cs - s * sn, s * cs + c * sn];
  }
  const squareR = r1 * r1 - i1 * i1, squareI = 2 * r1 * i1;
  const size = Math.hypot(squareR, squareI);
  return size > 0 ? (squareI * r2 - squareR * i2) / size : 0;
}
