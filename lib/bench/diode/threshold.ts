import { fitLine, fitLinear, type LineFit } from "../../fit/mod.ts";
import { type Quantity, quantity } from "../../result/mod.ts";
import { createRandom } from "../../signal/mod.ts";
import type { CurrentBand } from "./kinks.ts";
import { localFit, median } from "./local_fit.ts";

/** Where two lines through the points meet best. */
export interface Break {
  /** Current at the crossing, in A. */
  readonly current: number;
  /** Slopes below and above, per A. */
  readonly slopes: readonly [number, number];
  /** Sum of squares with two lines over that with one (1). */
  readonly residualRatio: number;
}

/** Tries every place between two lines and takes the one that fits best. */
export function findBreak(x: Float64Array, y: Float64Array): Break {
  const n = x.length;
  const sums = Array.from({ length: n + 1 }, () => [0, 0, 0, 0, 0]);
  const centre = x.reduce((sum, value) => sum + value, 0) / n;
  for (let i = 0; i < n; i++) {
    const u = x[i]! - centre;
    const terms = [u, y[i]!, u * u, u * y[i]!, y[i]! * y[i]!];
    sums[i + 1] = sums[i]!.map((sum, k) => sum + terms[k]!);
  }
  const segment = (from: number, to: number) => {
    const m = to - from;
    const [sx, sy, sxx, sxy, syy] = sums[to]!.map((sum, k) =>
      sum - sums[from]![k]!
    ) as [number, number, number, number, number];
    const slope = (m * sxy - sx * sy) / (m * sxx - sx * sx);
    const intercept = (sy - slope * sx) / m;
    const rest = syy - intercept * sy - slope * sxy;
    return { slope, intercept, rest: Math.max(0, rest) };
  };
  const whole = segment(0, n).rest;
  const margin = Math.max(4, Math.floor(n / 40));
  let best = { current: NaN, slopes: [NaN, NaN], residualRatio: Infinity };
  for (let k = margin; k <= n - margin; k++) {
    const below = segment(0, k);
    const above = segment(k, n);
    const ratio = (below.rest + above.rest) / whole;
    if (!(ratio < best.residualRatio)) continue;
    const crossing = (below.intercept - above.intercept) /
      (above.slope - below.slope);
    best = {
      current: crossing + centre,
      slopes: [below.slope, above.slope],
      residualRatio: ratio,
    };
  }
  return best as unknown as Break;
}

/** The two lines of a sweep and where they meet. */
export interface TwoSegmentFit {
  /** Threshold, in A. */
  readonly threshold: Quantity;
  /** Line below the threshold. */
  readonly below: LineFit;
  /** Line above the threshold. */
  readonly above: LineFit;
  /** Points used below and above, in A. */
  readonly ranges: readonly [CurrentBand, CurrentBand];
}

/**
 * Fits a line below and a gently bent line above the threshold, leaving out its
 * rounded surroundings. The uncertainty of the crossing comes from the
 * covariances of both, and from how far it moves, beyond noise, when the upper
 * one is fitted to its nearer half only, or starts twice as far away.
 */
export function fitTwoSegments(
  x: Float64Array,
  y: Float64Array,
  near: number,
  top: number,
): TwoSegmentFit | null {
  const first = guardOf(x, near);
  const guard = Math.max(first, 4 * kneeWidth(x, y, near, first, top));
  const lower = select(x, y, -Infinity, near - guard);
  const upper = select(x, y, near + guard, top);
  if (lower.x.length < 4 || upper.x.length < 8) return null;
  const below = fitLine(lower.x, lower.y);
  const whole = crossing(below, upper.x, upper.y, near);
  const farther = select(x, y, near + 2 * guard, top);
  const half = Math.ceil(upper.x.length / 2);
  const variants = [
    { x: upper.x.slice(0, half), y: upper.y.slice(0, half) },
    farther,
  ].filter((points) => points.x.length >= 8);
  const excess = Math.max(
    0,
    ...variants.map((points) => {
      const moved = crossing(below, points.x, points.y, near);
      // A part of the points: the variance of the difference is the difference
      // of the variances.
      return (moved.current - whole.current) ** 2 -
        Math.max(0, moved.variance - whole.variance);
    }),
  );
  return {
    threshold: quantity(
      whole.current,
      Math.sqrt(whole.variance + excess),
      "A",
      {
        degreesOfFreedom: Math.min(
          below.degreesOfFreedom,
          upper.x.length - 3,
        ),
      },
    ),
    below,
    above: fitLine(upper.x, upper.y),
    ranges: [
      { low: lower.x[0]!, high: lower.x.at(-1)! },
      { low: upper.x[0]!, high: upper.x.at(-1)! },
    ],
  };
}

/**
 * Width w of the rounded knee (u + sqrt(u² + w²))/2: there the light lies
 * w/2 times the change of slope above the crossing of both lines. In A.
 */
function kneeWidth(
  x: Float64Array,
  y: Float64Array,
  near: number,
  guard: number,
  top: number,
): number {
  const lower = select(x, y, -Infinity, near - guard);
  const upper = select(x, y, near + guard, near + (top - near) / 2);
  if (lower.x.length < 4 || upper.x.length < 4) return 0;
  const below = fitLine(lower.x, lower.y);
  const above = fitLine(upper.x, upper.y);
  const change = above.slope.value - below.slope.value;
  const crossing = (below.intercept.value - above.intercept.value) / change;
  const base = below.intercept.value + below.slope.value * crossing;
  const height = localFit(x, y, crossing, 3 * stepOf(x)).value - base;
  // A knee wider than a tenth of the upper part would leave nothing of it.
  return Math.min(Math.max(0, 2 * height / change || 0), (top - near) / 40);
}

/** How much on both sides of the threshold is left out, in A. */
export function guardOf(x: Float64Array, near: number): number {
  return Math.max(3 * stepOf(x), 0.05 * near);
}

/** Typical step of the current, in A. */
export function stepOf(x: Float64Array): number {
  return median(Array.from(x.subarray(1), (value, i) => value - x[i]!)) ||
    (x.at(-1)! - x[0]!) / x.length;
}

function select(
  x: Float64Array,
  y: Float64Array,
  low: number,
  high: number,
): { x: number[]; y: number[] } {
  const inside = Array.from(x.keys()).filter((i) =>
    x[i]! >= low && x[i]! <= high
  );
  return { x: inside.map((i) => x[i]!), y: inside.map((i) => y[i]!) };
}

/** Where the lower line meets the parabola through the upper points. */
function crossing(
  below: LineFit,
  x: readonly number[],
  y: readonly number[],
  near: number,
): { current: number; variance: number } {
  const scale = Math.max(...x) - near;
  const { parameters, covariance } = fitLinear(
    x.map((value) => {
      const u = (value - near) / scale;
      return [1, u, u * u];
    }),
    y,
  );
  const [p0, p1, p2] = parameters.map(({ value }) => value) as [
    number,
    number,
    number,
  ];
  const base = below.intercept.value + below.slope.value * near;
  const rise = below.slope.value * scale;
  let u = 0;
  for (let i = 0; i < 20; i++) {
    u -= (p0 + p1 * u + p2 * u * u - base - rise * u) /
      (p1 + 2 * p2 * u - rise);
  }
  const current = near + scale * u;
  const [[va, cab], [, vb]] = below.covariance as [
    [number, number],
    [number, number],
  ];
  let variance = va + 2 * current * cab + current * current * vb;
  const powers = [1, u, u * u];
  powers.forEach((left, j) =>
    powers.forEach((right, k) => variance += left * right * covariance[j]![k]!)
  );
  const slope = (p1 + 2 * p2 * u - rise) / scale;
  return { current, variance: variance / (slope * slope) };
}

/**
 * The threshold as the place of the greatest second derivative of the light,
 * near a first guess. The uncertainty is the spread of 60 repetitions with
 * fresh noise of the size found.
 */
export function secondDerivativeThreshold(
  x: Float64Array,
  y: Float64Array,
  near: number,
): Quantity {
  const halfWidth = curvatureWidth(x, near);
  const smooth = Float64Array.from(
    x,
    (at) => localFit(x, y, at, halfWidth).value,
  );
  const value = greatestCurvature(x, y, near, halfWidth);
  const noise = Math.sqrt(median(
    Array.from(x, (at) => localFit(x, y, at, halfWidth).variance),
  ));
  const random = createRandom(20);
  const places = Array.from({ length: 60 }, () =>
    greatestCurvature(
      x,
      smooth.map((each) => each + noise * random.normal()),
      near,
      halfWidth,
    ));
  const mean = places.reduce((sum, place) => sum + place, 0) / places.length;
  const spread = Math.sqrt(
    places.reduce((sum, place) => sum + (place - mean) ** 2, 0) /
      (places.length - 1),
  );
  return quantity(value, spread, "A", { degreesOfFreedom: 59 });
}

/** Half width of the parabolas for the second derivative, in A. */
export function curvatureWidth(x: Float64Array, near: number): number {
  return Math.max(6 * stepOf(x), 0.06 * near);
}

function greatestCurvature(
  x: Float64Array,
  y: Float64Array,
  near: number,
  halfWidth: number,
): number {
  const step = halfWidth / 20;
  const curvature = (k: number) =>
    localFit(x, y, near + k * step, halfWidth).curvature;
  let best = 0;
  let greatest = -Infinity;
  const values = new Map<number, number>();
  for (let k = -30; k <= 30; k++) {
    const value = curvature(k);
    values.set(k, value);
    if (value > greatest) [greatest, best] = [value, k];
  }
  // A parabola through the curvatures within a third of the width.
  let [s2, s4, t0, t1, t2, m] = [0, 0, 0, 0, 0, 0];
  for (let j = -7; j <= 7; j++) {
    const value = values.get(best + j) ?? curvature(best + j);
    m++;
    s2 += j * j;
    s4 += j ** 4;
    t0 += value;
    t1 += value * j;
    t2 += value * j * j;
  }
  const bend = (m * t2 - s2 * t0) / (m * s4 - s2 * s2);
  const shift = bend < 0 ? -(t1 / s2) / (2 * bend) : 0;
  return near + (best + Math.max(-7, Math.min(7, shift))) * step;
}
