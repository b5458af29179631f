import {
  type Capture,
  type ChannelDoubt,
  findChannel,
} from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { lagging } from "./drive.ts";
import type { Stroke } from "./ramps.ts";
import type { CurrentDoubt } from "./steps_result.ts";

const work = "find ramps";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/**
 * By how much steps per current are off for what makes the current off, to first
 * order: a course δI along a stroke changes a slope against the current by the part
 * -∫(I - Ī) δI dI / ∫(I - Ī)² dI (least squares, all currents alike as the counts
 * take them); strokes of a direction and the two directions are averaged as the
 * counts are.
 *
 * @param capture The capture, with its drive current.
 * @param strokes The strokes that count.
 * @returns One relative standard uncertainty for each cause.
 *
 * Source: JCGM 100:2008, 5.1.2.
 */
export function currentDoubts(
  capture: Capture,
  strokes: readonly Stroke[],
): CurrentDoubt[] {
  const drive = findChannel(capture, "drive current");
  return (drive?.doubts ?? []).map((doubt) => {
    const { source, degreesOfFreedom, found } = doubt;
    return {
      source,
      degreesOfFreedom,
      found,
      relativeStandardUncertainty: Math.hypot(
        ...changesOf(doubt, drive!.samples, capture.samplingRate, strokes),
      ),
    };
  });
}

/** Relative changes of the slope, one for each independent course. */
function changesOf(
  doubt: ChannelDoubt,
  samples: ArrayLike<number>,
  samplingRate: number,
  strokes: readonly Stroke[],
): number[] {
  if ("at" in doubt) {
    const { at, deviations } = doubt;
    const weights = meanOfDirections(
      strokes,
      (stroke) => tableWeights(stroke, at),
      at.length,
    );
    return deviations.map((course) =>
      course.reduce((sum, d, k) => sum + d * weights[k]!, 0)
    );
  }
  // Behind s/(s + ω) the output changes with ω by -1/ω of its own low-pass.
  const { corner, standardUncertainty } = doubt;
  const passed = lagging(
    Float64Array.from(samples),
    samplingRate / (2 * Math.PI * corner),
    1,
  );
  const [change] = meanOfDirections(
    strokes,
    (stroke) => {
      let sum = 0;
      const pulls = pullsOf(stroke.current);
      for (let i = 0; i < pulls.length; i++) {
        if ((i & stride) === stride) checkpoint(NaN, work);
        sum += pulls[i]! * passed[stroke.start + i]!;
      }
      return [sum];
    },
    1,
  );
  return [change! * standardUncertainty / corner];
}

/** Mean of the means of the two directions. */
function meanOfDirections(
  strokes: readonly Stroke[],
  of: (stroke: Stroke) => ArrayLike<number>,
  length: number,
): Float64Array {
  const mean = new Float64Array(length);
  const parts = (["up", "down"] as const)
    .map((way) => strokes.filter(({ direction }) => direction === way))
    .filter((some) => some.length > 0);
  for (const part of parts) {
    for (const stroke of part) {
      const values = of(stroke);
      for (let k = 0; k < length; k++) {
        mean[k]! += values[k]! / part.length / parts.length;
      }
    }
  }
  return mean;
}

/** What the slope along a stroke takes of each value of a table by current. */
function tableWeights(
  { current }: Stroke,
  at: readonly number[],
): Float64Array {
  const weights = new Float64Array(at.length);
  const pulls = pullsOf(current);
  let k = 0;
  for (let i = 0; i < current.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    const value = current[i]!;
    while (k + 2 < at.length && value >= at[k + 1]!) k++;
    while (k > 0 && value < at[k]!) k--;
    const part = Math.max(
      0,
      Math.min(1, (value - at[k]!) / (at[k + 1]! - at[k]!)),
    );
    weights[k]! += pulls[i]! * (1 - part);
    weights[k + 1]! += pulls[i]! * part;
  }
  return weights;
}

/** What a slope against the current takes of an error of each sample, in 1/A. */
function pullsOf(current: Float64Array): Float64Array {
  const count = current.length;
  const pulls = new Float64Array(count);
  const [first, last] = [current[0]!, current[count - 1]!];
  const middle = (first + last) / 2;
  let squares = 0;
  for (let i = 0; i < count; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    const width = Math.abs(
      current[Math.min(count - 1, i + 1)]! - current[Math.max(0, i - 1)]!,
    );
    pulls[i] = width * (current[i]! - middle);
    squares += pulls[i]! * (current[i]! - middle);
  }
  for (let i = 0; i < count; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    pulls[i]! /= squares;
  }
  return pulls;
}
