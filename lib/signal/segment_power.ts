import { checkpoint } from "../progress/mod.ts";
import { type Detrending, removeTrend } from "./detrend.ts";
import { realFourierTransform } from "./fourier.ts";
import { smallPlan } from "./fourier_plan.ts";
import type { NumberSequence } from "./samples.ts";

const task = "spectrum";
/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/** How a record is cut into windowed segments. */
export interface Segments {
  /** Samples per segment. */
  readonly length: number;
  /** Samples from the start of one segment to the next. */
  readonly hop: number;
  /** Number of segments. */
  readonly count: number;
  /** Window values, of `length`. */
  readonly window: Float64Array;
  /** What is removed from each segment before it is windowed. */
  readonly detrending: Detrending;
}

/**
 * Gives |X[k]|², bins 0 … ⌊L/2⌋, of every segment of a record.
 *
 * @param samples The record.
 * @param segments How it is cut.
 * @param sink Called once per segment with its index and its squared moduli;
 * the array is used again for the next one.
 */
export function eachSegmentPower(
  samples: NumberSequence,
  segments: Segments,
  sink: (index: number, power: Float64Array) => void,
): void {
  const { length } = segments;
  const powerOfTwo = length >= 4 && (length & (length - 1)) === 0;
  if (powerOfTwo && length <= 1 << 17) pairs(samples, segments, sink);
  else singles(samples, segments, sink);
}

function singles(
  samples: NumberSequence,
  segments: Segments,
  sink: (index: number, power: Float64Array) => void,
): void {
  const { length, hop, count, window, detrending } = segments;
  const segment = new Float64Array(length);
  const power = new Float64Array(Math.floor(length / 2) + 1);
  for (let index = 0; index < count; index++) {
    checkpoint(index / count, task);
    for (let i = 0; i < length; i++) {
      if ((i & stride) === stride) checkpoint(index / count, task);
      segment[i] = samples[index * hop + i]!;
    }
    removeTrend(segment, detrending);
    for (let i = 0; i < length; i++) {
      if ((i & stride) === stride) checkpoint(index / count, task);
      segment[i]! *= window[i]!;
    }
    const { real, imaginary } = realFourierTransform(segment);
    for (let k = 0; k < power.length; k++) {
      if ((k & stride) === stride) checkpoint(index / count, task);
      power[k] = real[k]! * real[k]! + imaginary[k]! * imaginary[k]!;
    }
    sink(index, power);
  }
}

/** Two real segments make one complex transform. */
function pairs(
  samples: NumberSequence,
  segments: Segments,
  sink: (index: number, power: Float64Array) => void,
): void {
  const { length, hop, count } = segments;
  const plan = smallPlan(length);
  const packed = new Float64Array(2 * length);
  const transformed = new Float64Array(2 * length);
  const bins = length / 2 + 1;
  const first = new Float64Array(bins);
  const second = new Float64Array(bins);
  const scratch = new Float64Array(length);
  const perCheckpoint = Math.max(1, Math.floor((1 << 18) / length));
  for (let index = 0; index < count; index += 2) {
    if (index / 2 % perCheckpoint === 0) checkpoint(index / count, task);
    pack(samples, index * hop, packed, 0, scratch, segments);
    if (index + 1 < count) {
      pack(samples, (index + 1) * hop, packed, 1, scratch, segments);
    } else {
      for (let i = 1; i < packed.length; i += 2) packed[i] = 0;
    }
    plan.transform(transformed, packed);
    separate(transformed, first, second);
    sink(index, first);
    if (index + 1 < count) sink(index + 1, second);
  }
}

function pack(
  samples: NumberSequence,
  from: number,
  packed: Float64Array,
  part: number,
  scratch: Float64Array,
  { length, window, detrending }: Segments,
): void {
  if (detrending === "linear") {
    for (let i = 0; i < length; i++) scratch[i] = samples[from + i]!;
    removeTrend(scratch, detrending);
    for (let i = 0; i < length; i++) {
      packed[2 * i + part] = scratch[i]! * window[i]!;
    }
    return;
  }
  let mean = 0;
  if (detrending === "constant") {
    for (let i = 0; i < length; i++) mean += samples[from + i]!;
    mean /= length;
  }
  for (let i = 0; i < length; i++) {
    packed[2 * i + part] = (samples[from + i]! - mean) * window[i]!;
  }
}

function separate(
  z: Float64Array,
  first: Float64Array,
  second: Float64Array,
): void {
  const size = z.length;
  first[0] = z[0]! * z[0]!;
  second[0] = z[1]! * z[1]!;
  for (let k = 1, i = 2, j = size - 2; i <= j; k++, i += 2, j -= 2) {
    const ar = z[i]!, ai = z[i + 1]!, br = z[j]!, bi = z[j + 1]!;
    const sr = ar + br, si = ai - bi, dr = ai + bi, di = br - ar;
    first[k] = 0.25 * (sr * sr + si * si);
    second[k] = 0.25 * (dr * dr + di * di);
  }
}
