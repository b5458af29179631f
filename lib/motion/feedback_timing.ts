import { type Quantity, quantity } from "../result/mod.ts";
import { findChordCrossing } from "./chord_crossing.ts";
import type { MotionTrack } from "./motion_track.ts";

/** C and α from the timing within fringes. */
export interface TimingEstimate {
  /** Feedback parameter C (1). */
  readonly feedbackParameter: Quantity;
  /** Linewidth enhancement factor α (1). */
  readonly linewidthEnhancementFactor: Quantity;
  /** From the rising zero crossing to the jump, receding, in fringes. */
  readonly rising: Quantity;
  /** From the falling zero crossing to the jump, approaching, in fringes. */
  readonly falling: Quantity;
}

const turn = 2 * Math.PI;

/**
 * Standard uncertainty that all edges of a record share, in samples: simulated
 * benches of 8000 samples at 30 dB.
 */
const edgeUncertainty = 0.2;

/**
 * C and α at moderate feedback (1 < C < 4.6) from times alone, without a fit:
 * the part φ12 of a fringe between the zero crossing and the jump after it while
 * the target recedes, and φ34 while it approaches. Their sum gives
 * sqrt(C² - 1) + arccos(-1/C), hence C; their difference
 * C/sqrt(1 + α²) - arctan α + π/2, hence α.
 *
 * @param signal The conditioned signal.
 * @param track Its track, for jumps and levels.
 * @returns The estimate, or `null` where fewer than three fringes each way are
 * usable or the timing fits no C.
 *
 * Where C is above some 3.5 the signal no longer crosses its middle both ways and
 * there is no estimate.
 *
 * Source: Yu, Giuliani, Donati 2004.
 */
export function feedbackByTiming(
  signal: Float64Array,
  track: MotionTrack,
): TimingEstimate | null {
  const { fringePlaces, fringeSigns, middle } = track;
  const parts: [number[], number[]] = [[], []];
  let samples = 0;
  for (let k = 1; k < fringePlaces.length - 1; k++) {
    const sign = fringeSigns[k]!;
    if (fringeSigns[k - 1] !== sign || fringeSigns[k + 1] !== sign) continue;
    const from = fringePlaces[k - 1]!;
    const to = fringePlaces[k]!;
    const crossing = findChordCrossing(signal, from, to, middle, sign > 0);
    if (crossing === null) continue;
    // The speed changes: fringes are counted along a curve through the jumps.
    const first = fringeSigns[k - 2] === sign ? k - 2 : k - 1;
    const jumps = fringePlaces.subarray(first, k + 2);
    samples += to - from;
    parts[sign > 0 ? 0 : 1].push(k - first - numberAt(jumps, crossing));
  }
  const [rising, falling] = parts.map(meanOf);
  if (!rising || !falling) return null;
  const sum = turn * (rising.value + falling.value) / 2;
  const difference = turn * (rising.value - falling.value) / 2;
  const perFringe = samples / (parts[0].length + parts[1].length);
  const u = turn / 2 * Math.hypot(
    rising.standardUncertainty,
    falling.standardUncertainty,
    Math.SQRT2 * edgeUncertainty / perFringe,
  );
  const common = (c: number) => Math.sqrt(c * c - 1) + Math.acos(-1 / c);
  const c = solve(common, sum, 1, 12);
  if (c === null) return null;
  const tilt = (alpha: number) =>
    c / Math.hypot(1, alpha) - Math.atan(alpha) + Math.PI / 2;
  const alpha = solve(tilt, difference, 0.05, 60);
  if (alpha === null) return null;
  const slopeC = (common(c * 1.001) - common(c)) / (0.001 * c);
  const slopeA = (tilt(alpha * 1.001) - tilt(alpha)) / (0.001 * alpha);
  const uc = u / Math.abs(slopeC);
  const byC = 1 / Math.hypot(1, alpha);
  return {
    feedbackParameter: quantity(c, uc, "1"),
    linewidthEnhancementFactor: quantity(
      alpha,
      Math.hypot(u, byC * uc) / Math.abs(slopeA),
      "1",
    ),
    rising,
    falling,
  };
}

/** Number of fringes from the first of some jumps to a place between them. */
function numberAt(jumps: Float64Array, place: number): number {
  return jumps.reduce(
    (sum, jump, j) =>
      sum + jumps.reduce(
        (part, other, m) =>
          m === j ? part : part * (place - other) / (jump - other),
        j,
      ),
    0,
  );
}

function meanOf(values: number[]): Quantity | null {
  if (values.length < 3) return null;
  const sorted = Float64Array.from(values).sort();
  const middle = sorted[sorted.length >> 1]!;
  const kept = values.filter((value) => Math.abs(value - middle) < 0.1);
  if (kept.length < 3) return null;
  const mean = kept.reduce((a, b) => a + b, 0) / kept.length;
  const squares = kept.reduce((a, b) => a + (b - mean) ** 2, 0);
  return quantity(
    mean,
    Math.sqrt(squares / (kept.length - 1) / kept.length),
    "1",
    { degreesOfFreedom: kept.length - 1 },
  );
}

function solve(
  f: (x: number) => number,
  target: number,
  low: number,
  high: number,
): number | null {
  const sign = Math.sign(f(high) - f(low));
  if (sign * (f(low) - target) > 0 || sign * (f(high) - target) < 0) {
    return null;
  }
  for (let i = 0; i < 80; i++) {
    const middle = (low + high) / 2;
    if (sign * (f(middle) - target) < 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}
