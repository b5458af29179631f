import { checkpoint } from "../progress/mod.ts";
import { welch } from "../signal/mod.ts";
import { findSwings, type Swing } from "./find_swings.ts";

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
    noiseShare: noise / median(swings.map(heightOf)),
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
  const floor = density.slice().sort()[density.length >> 1]!;
  const white = Math.sqrt(floor * samplingRate / 2);
  let top = 0;
  for (let k = 2; k + 2 < density.length; k++) {
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
    if ((i & 0x7ffff) === 0) checkpoint(NaN, "look for swings");
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
  checkpoint(NaN, "look for swings");
  const sorted = signal.filter((_, i) => i % stride === 0).sort();
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
    const height = median(run.map(heightOf));
    if (run.length >= march.swings && way > march.heights * height) {
      riding += run.at(-1)!.to - run[0]!.from;
    }
    first = k - 1;
  }
  return riding / (swings.at(-1)!.to - swings[0]!.from);
}

function heightScatter(swings: readonly Swing[]): number {
  const height = median(swings.map(heightOf));
  const changes = swings.slice(2).map((swing, i) =>
    Math.abs(swing.start - swings[i]!.start)
  );
  return median(changes) / height;
}

/** Leans beyond which a fringe is not taken for symmetric, at least (1). */
const leastLean = 0.08;
const leanReach = 2;

function leans(swings: readonly Swing[]) {
  const height = median(swings.map(heightOf));
  const lean = swings.map((swing, k) => {
    if (k % 8192 === 0) checkpoint(NaN, "look for swings");
    const before = swings[k - 1];
    const after = swings[k + 1];
    if (before === undefined || after === undefined) return NaN;
    if (heightOf(swing) < 0.6 * height) return NaN;
    const beside = (lengthOf(before) + lengthOf(after)) / 2;
    const own = lengthOf(swing);
    return Math.sign(swing.end - swing.start) * (beside - own) / (beside + own);
  });
  const smooth = lean.map((_, k) => {
    if (k % 8192 === 0) checkpoint(NaN, "look for swings");
    return median(
      lean.slice(Math.max(0, k - leanReach), k + leanReach + 1)
        .filter(Number.isFinite),
    );
  });
  // The mean, as times of whole samples leave no median.
  const apart = lean.map((value, k) => Math.abs(value - smooth[k]!))
    .filter(Number.isFinite);
  const scatter = 1.25 * apart.reduce((a, b) => a + b, 0) / apart.length;
  const limit = Math.max(leastLean, scatter);
  const sides = smooth.map((value): 1 | -1 | 0 =>
    value > limit ? 1 : value < -limit ? -1 : 0
  );
  let [rising, falling, total, reversals, way] = [0, 0, 0, 0, 0];
  swings.forEach((swing, k) => {
    const length = lengthOf(swing);
    total += length;
    const sign = sides[k]!;
    if (sign > 0) rising += length;
    if (sign < 0) falling += length;
    if (sign !== 0) {
      if (way !== 0 && sign !== way) reversals++;
      way = sign;
    }
  });
  const sizes = smooth.map(Math.abs).filter(Number.isFinite);
  return {
    course: swings.map((swing, k): LeaningSwing => {
      if (k % 8192 === 0) checkpoint(NaN, "look for swings");
      const near = sides.slice(Math.max(0, k - leanReach), k + leanReach + 1);
      const sure = near.length > 2 * leanReach &&
        near.every((other) => other === sides[k]);
      return { ...swing, side: sure ? sides[k]! : 0 };
    }),
    leanClarity: sizes.length > 0 ? median(sizes) / Math.max(scatter, 1e-3) : 0,
    risingLean: rising / total,
    fallingLean: falling / total,
    reversals,
  };
}

/** Fringes per second around each swing: median of three, in Hz. */
function ratesOf(swings: readonly Swing[], samplingRate: number): number[] {
  const own = swings.map((swing, k) => {
    const other = swings[k + 1] ?? swings[k - 1]!;
    return samplingRate / (lengthOf(swing) + lengthOf(other));
  });
  return own.map((_, k) => {
    if (k % 8192 === 0) checkpoint(NaN, "look for swings");
    return median(own.slice(Math.max(0, k - 1), k + 2));
  });
}

function paces(swings: readonly Swing[], rates: readonly number[]) {
  checkpoint(NaN, "look for swings");
  const order = rates.map((rate, k) => ({ rate, length: lengthOf(swings[k]!) }))
    .sort((a, b) => a.rate - b.rate);
  const total = order.reduce((sum, { length }) => sum + length, 0);
  const atTime = (part: number) => {
    let sum = 0;
    for (const { rate, length } of order) {
      sum += length;
      if (sum >= part * total) return rate;
    }
    return NaN;
  };
  const usual = atTime(0.8);
  const middle = atTime(0.5);
  const plateau = order.reduce(
    (sum, { rate, length }) =>
      Math.abs(rate / usual - 1) < 0.15 ? sum + length : sum,
    0,
  );
  return {
    plateauShare: plateau / total,
    fastShare: rates.filter((rate) => rate > 2 * middle).length / rates.length,
    fastestRate: order[Math.floor(0.98 * (order.length - 1))]!.rate,
  };
}

const heightOf = ({ start, end }: Swing) => Math.abs(end - start);
const lengthOf = ({ from, to }: Swing) => to - from;

function median(values: number[]): number {
  if (values.length > 10_000) checkpoint(NaN, "look for swings");
  return values.sort((a, b) => a - b)[values.length >> 1] ?? NaN;
}
