import { copyOf } from "../memory/mod.ts";
import { orderOf, select, sortValues } from "../order/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { welch } from "../signal/mod.ts";
import {
  findSwings,
  heightOf,
  lengthOf,
  medianOfFew,
  type Swing,
} from "./find_swings.ts";

const work = "look for swings";

/**
 * How the signal swings from extreme to extreme: fringes of a target under steady
 * light all reach from one bottom to one top.
 */
export interface SwingEvidence {
  /** Swings from one extreme to the next (1). */
  readonly swings: number;
  /**
   * Share of the time in which the middle of the swings marches by more than half
   * their height (1): near 0 for fringes under steady light, most of the time
   * where they ride on a modulated current.
   */
  readonly ridingShare: number;
  /**
   * Median difference of neighbouring tops, and of bottoms, over the height of the
   * swings (1): small for fringes, large for light that comes and goes.
   */
  readonly heightScatter: number;
  /** Noise over the height of the swings, as far as it is seen (1). */
  readonly noiseShare: number;
  /** Median lean of five swings over the scatter within them (1). */
  readonly leanClarity: number;
  /** Share of the time in which swings lean to the fast rise (1). */
  readonly risingLean: number;
  /** Share of the time in which swings lean to the fast fall (1). */
  readonly fallingLean: number;
  /** Times the lean changes over: the target turned (1). */
  readonly reversals: number;
  /** Share of the time within 15 % of the rate that is usual when fast (1). */
  readonly plateauShare: number;
  /** Share of the fringes that come at more than twice the median rate (1). */
  readonly fastShare: number;
  /** Fringes per second where they come fastest (98 % point), in Hz. */
  readonly fastestRate: number;
  /** The swings themselves, with the side to which they surely lean. */
  readonly course: readonly LeaningSwing[];
}

/** A swing with the side to which it and its neighbours lean. */
export interface LeaningSwing extends Swing {
  /** 1 where the rise is fast, -1 where the fall is, 0 where it is not sure. */
  readonly side: 1 | -1 | 0;
}

const none: SwingEvidence = {
  swings: 0,
  ridingShare: 0,
  heightScatter: NaN,
  noiseShare: NaN,
  leanClarity: 0,
  risingLean: 0,
  fallingLean: 0,
  reversals: 0,
  plateauShare: 0,
  fastShare: 0,
  fastestRate: NaN,
  course: [],
};

/**
 * Looks at the swings of a signal.
 *
 * @param samples The signal, all finite, any unit.
 * @param samplingRate Samples per second, in Hz.
 * @returns What was found.
 */
export function swingEvidence(
  samples: Float64Array,
  samplingRate: number,
): SwingEvidence {
  const { smooth, noise } = smoothed(samples, samplingRate);
  const range = rangeOf(smooth);
  if (!(range > 0)) return none;
  const swings = findSwings(
    smooth,
    Math.min(0.3 * range, Math.max(6 * noise, 0.01 * range)),
  );
  if (swings.length < 4) return { ...none, swings: swings.length };
  const rates = ratesOf(swings, samplingRate);
  return {
    swings: swings.length,
    ridingShare: ridingShare(swings),
    heightScatter: heightScatter(swings),
    noiseShare: noise / middleOf(heightsOf(swings)),
    ...leans(swings),
    ...paces(swings, rates),
  };
}

/**
 * Without what lies above the highest frequency that stands out of the noise: two
 * running means, which do not overshoot where fringes jump.
 */
function smoothed(samples: Float64Array, samplingRate: number) {
  const { density, frequency } = welch(samples, { samplingRate });
  const floor = select(copyOf(density, work), density.length >> 1);
  const white = Math.sqrt(floor * samplingRate / 2);
  let top = 0;
  for (let k = 2; k + 2 < density.length; k++) {
    if ((k & 0x1ffff) === 0x1ffff) checkpoint(NaN, work);
    let sum = 0;
    for (let j = k - 2; j <= k + 2; j++) sum += density[j]!;
    if (sum > 5 * 4 * floor) top = k;
  }
  const width = Math.floor(samplingRate / (4 * frequency[top]!));
  if (!(width > 1 && width < samples.length / 16)) {
    return { smooth: samples, noise: white };
  }
  return {
    smooth: runningMean(runningMean(samples, width), width),
    // Σ w² of a triangle of two widths.
    noise: white * Math.sqrt(2 / (3 * width)),
  };
}

function runningMean(samples: Float64Array, width: number): Float64Array {
  const out = new Float64Array(samples.length);
  const before = width >> 1;
  let sum = 0;
  let count = 0;
  for (let i = -before; i < samples.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, work);
    const next = i + width - before - 1;
    if (next >= 0 && next < samples.length) {
      sum += samples[next]!;
      count++;
    }
    const gone = i - before - 1;
    if (gone >= 0) {
      sum -= samples[gone]!;
      count--;
    }
    if (i >= 0) out[i] = sum / count;
  }
  return out;
}

function rangeOf(signal: Float64Array): number {
  const stride = Math.max(1, signal.length >> 16);
  const few = new Float64Array(Math.ceil(signal.length / stride));
  for (let k = 0; k < few.length; k++) few[k] = signal[k * stride]!;
  const sorted = sortValues(few);
  const at = (part: number) => sorted[Math.floor(part * (sorted.length - 1))]!;
  return at(0.98) - at(0.02);
}

/** Fewest swings of a march, and how far it goes in heights of its swings. */
const march = { swings: 4, heights: 0.6 };

function ridingShare(swings: readonly Swing[]): number {
  const middle = ({ start, end }: Swing) => (start + end) / 2;
  let riding = 0;
  let first = 0;
  for (let k = 1; k <= swings.length; k++) {
    const goesOn = k < swings.length && k - first >= 2 &&
      (middle(swings[k]!) - middle(swings[k - 1]!)) *
            (middle(swings[first + 1]!) - middle(swings[first]!)) > 0;
    if (goesOn || k - first < 2) continue;
    const run = swings.slice(first, k);
    const way = Math.abs(middle(run.at(-1)!) - middle(run[0]!));
    const height = medianOfFew(run.map(heightOf));
    if (run.length >= march.swings && way > march.heights * height) {
      riding += run.at(-1)!.to - run[0]!.from;
    }
    first = k - 1;
  }
  return riding / (swings.at(-1)!.to - swings[0]!.from);
}

function heightScatter(swings: readonly Swing[]): number {
  const changes = new Float64Array(swings.length - 2);
  for (let i = 0; i < changes.length; i++) {
    if ((i & 0x1ffff) === 0) checkpoint(NaN, work);
    changes[i] = Math.abs(swings[i + 2]!.start - swings[i]!.start);
  }
  return middleOf(changes) / middleOf(heightsOf(swings));
}

/** Leans beyond which a fringe is not taken for symmetric, at least (1). */
const leastLean = 0.08;
const leanReach = 2;

function leans(swings: readonly Swing[]) {
  const height = middleOf(heightsOf(swings));
  const lean = swings.map((swing, k) => {
    if (k % 8192 === 0) checkpoint(NaN, work);
    const before = swings[k - 1];
    const after = swings[k + 1];
    if (before === undefined || after === undefined) return NaN;
    if (heightOf(swing) < 0.6 * height) return NaN;
    const beside = (lengthOf(before) + lengthOf(after)) / 2;
    const own = lengthOf(swing);
    return Math.sign(swing.end - swing.start) * (beside - own) / (beside + own);
  });
  const smooth = lean.map((_, k) => {
    if (k % 8192 === 0) checkpoint(NaN, work);
    return medianOfFew(
      lean.slice(Math.max(0, k - leanReach), k + leanReach + 1)
        .filter(Number.isFinite),
    );
  });
  // The mean, as times of whole samples leave no median.
  let [apart, counted] = [0, 0];
  for (let k = 0; k < lean.length; k++) {
    if ((k & 0x1ffff) === 0) checkpoint(NaN, work);
    const distance = Math.abs(lean[k]! - smooth[k]!);
    if (!Number.isFinite(distance)) continue;
    apart += distance;
    counted++;
  }
  const scatter = 1.25 * apart / counted;
  const limit = Math.max(leastLean, scatter);
  const sides: (1 | -1 | 0)[] = [];
  const sizes: number[] = [];
  let [rising, falling, total, reversals, way] = [0, 0, 0, 0, 0];
  for (let k = 0; k < swings.length; k++) {
    if ((k & 0x1ffff) === 0) checkpoint(NaN, work);
    const length = lengthOf(swings[k]!);
    total += length;
    const value = smooth[k]!;
    if (Number.isFinite(value)) sizes.push(Math.abs(value));
    const sign = value > limit ? 1 : value < -limit ? -1 : 0;
    sides.push(sign);
    if (sign > 0) rising += length;
    if (sign < 0) falling += length;
    if (sign !== 0) {
      if (way !== 0 && sign !== way) reversals++;
      way = sign;
    }
  }
  return {
    course: swings.map((swing, k): LeaningSwing => {
      if (k % 8192 === 0) checkpoint(NaN, work);
      const near = sides.slice(Math.max(0, k - leanReach), k + leanReach + 1);
      const sure = near.length > 2 * leanReach &&
        near.every((other) => other === sides[k]);
      return { ...swing, side: sure ? sides[k]! : 0 };
    }),
    leanClarity: sizes.length > 0
      ? middleOf(Float64Array.from(sizes)) / Math.max(scatter, 1e-3)
      : 0,
    risingLean: rising / total,
    fallingLean: falling / total,
    reversals,
  };
}

/** Fringes per second around each swing: median of three, in Hz. */
function ratesOf(swings: readonly Swing[], samplingRate: number): number[] {
  const own = swings.map((swing, k) => {
    if (k % 0x20000 === 0) checkpoint(NaN, work);
    const other = swings[k + 1] ?? swings[k - 1]!;
    return samplingRate / (lengthOf(swing) + lengthOf(other));
  });
  return own.map((_, k) => {
    if (k % 8192 === 0) checkpoint(NaN, work);
    return medianOfFew(own.slice(Math.max(0, k - 1), k + 2));
  });
}

function paces(swings: readonly Swing[], rates: readonly number[]) {
  const order = orderOf(Float64Array.from(rates));
  let total = 0;
  for (let k = 0; k < swings.length; k++) {
    if ((k & 0x1ffff) === 0) checkpoint(NaN, work);
    total += lengthOf(swings[k]!);
  }
  const atTime = (part: number) => {
    let sum = 0;
    for (let k = 0; k < order.length; k++) {
      if ((k & 0x1ffff) === 0) checkpoint(NaN, work);
      sum += lengthOf(swings[order[k]!]!);
      if (sum >= part * total) return rates[order[k]!]!;
    }
    return NaN;
  };
  const usual = atTime(0.8);
  const middle = atTime(0.5);
  let [plateau, fast] = [0, 0];
  for (let k = 0; k < rates.length; k++) {
    if ((k & 0x1ffff) === 0) checkpoint(NaN, work);
    const rate = rates[k]!;
    // Lengths are whole numbers of samples: their sum is the same in any order.
    if (Math.abs(rate / usual - 1) < 0.15) plateau += lengthOf(swings[k]!);
    if (rate > 2 * middle) fast++;
  }
  return {
    plateauShare: plateau / total,
    fastShare: fast / rates.length,
    fastestRate: rates[order[Math.floor(0.98 * (order.length - 1))]!]!,
  };
}

function heightsOf(swings: readonly Swing[]): Float64Array {
  const heights = new Float64Array(swings.length);
  for (let k = 0; k < heights.length; k++) {
    if ((k & 0x1ffff) === 0) checkpoint(NaN, work);
    heights[k] = heightOf(swings[k]!);
  }
  return heights;
}

/** The median of many; their order changes. */
function middleOf(values: Float64Array): number {
  return values.length === 0 ? NaN : select(values, values.length >> 1);
}
