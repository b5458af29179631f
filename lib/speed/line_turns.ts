import { frameEvidence } from "./track_direction.ts";
import { findReflections, type Reflection } from "./turning.ts";

/** A stretch of samples with the line that was followed through it. */
export interface LineCourse {
  /** Samples without their mean. */
  readonly samples: Float64Array;
  /** Samples per second, in Hz. */
  readonly samplingRate: number;
  /** Middle of each frame, in s. */
  readonly time: Float64Array;
  /** Frequency of the line, in Hz; `NaN` where it is not seen. */
  readonly frequency: Float64Array;
  /** Distance of the bins, in Hz. */
  readonly binWidth: number;
}

/** Frames to either side of a turn whose saw-tooth is looked at, at most. */
const reach = 256;
/** Standard deviations from which on a saw-tooth tells its side. */
const sure = 4;

/**
 * Where the surface turns round: the line runs into zero frequency and out again,
 * and where the saw-tooth tells the direction, it is another one afterwards.
 */
export function turnsOf(line: LineCourse): Reflection[] {
  const { time, frequency, binWidth } = line;
  const found = findReflections(time, frequency, binWidth);
  return found.filter(({ frame }, k) => {
    const before = Math.max(found[k - 1]?.frame ?? 0, frame - reach);
    const after = Math.min(found[k + 1]?.frame ?? time.length, frame + reach);
    const [first, second] = [
      sideOf(line, before, frame),
      sideOf(line, frame, after),
    ];
    return !(Math.abs(first) > sure && Math.abs(second) > sure &&
      first * second > 0);
  });
}

/** Which way the fringes lean over, in standard deviations. */
function sideOf(
  { samples, samplingRate, time, frequency }: LineCourse,
  from: number,
  to: number,
): number {
  const { sum, squares, count } = frameEvidence(
    samples,
    samplingRate,
    time,
    frequency,
    from,
    to,
  );
  return count < 8 ? 0 : sum / Math.sqrt(squares);
}
