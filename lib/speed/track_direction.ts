import type { Direction } from "./direction.ts";

/** Evidence for the direction over some frames. */
export interface FrameEvidence {
  /** Σ Im⟨X(f)² X*(2f)⟩ over |X(f)|² |X(2f)|, frame by frame, summed (1). */
  readonly sum: number;
  /** Sum of its squares (1). */
  readonly squares: number;
  /** Frames counted. */
  readonly count: number;
}

/**
 * Saw-tooth evidence of a followed line over a stretch of frames: in every frame
 * the line and its second harmonic are taken at the tracked frequency, see
 * {@linkcode directionFromHarmonic}. At most some 300 frames are used.
 */
export function frameEvidence(
  samples: Float64Array,
  samplingRate: number,
  segmentLength: number,
  time: Float64Array,
  frequency: Float64Array,
  from: number,
  to: number,
): FrameEvidence {
  const step = Math.max(1, Math.floor((to - from) / 300));
  let sum = 0, squares = 0, count = 0;
  for (let frame = from; frame < to; frame += step) {
    const f = frequency[frame]!;
    if (Number.isNaN(f) || 2 * f > 0.48 * samplingRate) continue;
    const start = Math.round(time[frame]! * samplingRate - segmentLength / 2);
    const value = harmonicSine(samples, start, segmentLength, f / samplingRate);
    sum += value;
    squares += value * value;
    count++;
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
  // Overlapping frames repeat each other up to four times.
  const significance = total.squares > 0
    ? Math.abs(total.sum) / Math.sqrt(4 * total.squares)
    : 0;
  if (total.count < 8 || significance < 4) {
    return { direction: "not determined", significance };
  }
  return {
    direction: polarity * total.sum > 0 ? "receding" : "approaching",
    significance,
  };
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
  const size = Math.hypot(squareR, squareI) * Math.hypot(r2, i2);
  return size > 0 ? (squareI * r2 - squareR * i2) / size : 0;
}
