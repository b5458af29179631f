import { chiSquareQuantile } from "../fit/mod.ts";
import {
  inDigits,
  type Quantity,
  quantity,
  warn,
  type Warning,
} from "../result/mod.ts";

/** Steps of one direction of the ramp. */
export interface DirectionMean {
  /** Steps per ramp (1). */
  readonly steps: Quantity;
  /** Strokes used. */
  readonly strokes: number;
}

/** A stroke to combine. */
export interface CountedStroke {
  readonly direction: "up" | "down";
  readonly steps: number;
  readonly standardUncertainty: number;
  readonly used: boolean;
}

/**
 * A stroke that is this close to the others is none to leave out (1): where fringes
 * jump, its uncertainty tells less than that.
 */
const leastOutlier = 0.003;
/** A difference that a tap of the bench makes, of some 6 nm (1). */
const leastTold = 0.02;

/** Pairs of a rising and a falling stroke whose scatter tells something (1). */
const leastPairs = 3;

/** What {@linkcode combineStrokes} gives. */
export interface CombinedStrokes {
  /** Mean of the two directions (1). */
  readonly steps: Quantity;
  readonly up: DirectionMean | null;
  readonly down: DirectionMean | null;
  /** Whether each stroke counts. */
  readonly used: boolean[];
  readonly warnings: Warning[];
}

/**
 * Combines strokes: outliers by the median absolute deviation are left out,
 * and neighbouring strokes of the two directions are averaged in pairs, in which a
 * steady motion of the target cancels; with fewer than three pairs each direction
 * is averaged by itself, and the result is the mean of the two.
 *
 * The standard uncertainty is that of the noise inside the strokes, unless the
 * scatter between pairs (or strokes) is larger than that noise allows (χ² above its 99 %
 * quantile); then it is the scatter.
 *
 * How well the noise of a stroke is known tells the degrees of freedom, JCGM
 * 100:2008, G.4.2: fully where fringes are smooth. Where they jump, the place of a
 * few jumps decides, and the uncertainty of a fit is itself uncertain by half:
 * ν = ½ (Δu/u)⁻² = 2 for each stroke.
 *
 * @param jumping Whether the fringes jump.
 */
export function combineStrokes(
  strokes: readonly CountedStroke[],
  jumping: boolean,
): CombinedStrokes {
  const warnings: Warning[] = [];
  const used = strokes.map((stroke) => stroke.used);
  for (const direction of ["up", "down"] as const) {
    const members = strokes.flatMap((stroke, i) =>
      stroke.used && stroke.direction === direction ? [i] : []
    );
    if (members.length < 3) continue;
    const centre = median(members.map((i) => strokes[i]!.steps));
    const spread = 1.4826 *
      median(members.map((i) => Math.abs(strokes[i]!.steps - centre)));
    for (const i of members) {
      const { steps, standardUncertainty } = strokes[i]!;
      if (
        Math.abs(steps - centre) >
          Math.max(5 * Math.max(spread, standardUncertainty), leastOutlier)
      ) {
        used[i] = false;
      }
    }
  }
  const left = strokes.filter((stroke, i) =>
    !used[i] && Number.isFinite(stroke.steps)
  );
  const farthest = farthestOf(left, strokes.filter((_, i) => used[i]));
  if (farthest > leastTold) {
    warnings.push(warn(
      "outlier-ramps",
      `${left.length} of ${strokes.length} strokes are left out, as they differ from the others by up to ${
        inDigits(farthest, 2)
      } steps: look for taps or drift during the capture`,
      "note",
    ));
  }
  const up = directionMean(
    strokes.filter((s, i) => used[i] && s.direction === "up"),
    jumping,
  );
  const down = directionMean(
    strokes.filter((s, i) => used[i] && s.direction === "down"),
    jumping,
  );
  if (up === null || down === null) {
    return { steps: (up ?? down)!.steps, up, down, used, warnings };
  }
  const pairs = pairedMean(strokes, used, jumping);
  if (pairs !== null) {
    return { steps: pairs, up, down, used, warnings };
  }
  const [a, b] = [up.steps, down.steps];
  const [va, vb] = [a.standardUncertainty ** 2, b.standardUncertainty ** 2];
  // Welch–Satterthwaite, JCGM 100:2008, G.2b.
  const nu = (va + vb) ** 2 /
    (va ** 2 / a.degreesOfFreedom + vb ** 2 / b.degreesOfFreedom);
  return {
    steps: quantity(
      (a.value + b.value) / 2,
      Math.sqrt(va + vb) / 2,
      "1",
      { degreesOfFreedom: Number.isNaN(nu) ? Infinity : nu },
    ),
    up,
    down,
    used,
    warnings,
  };
}

/**
 * Mean over pairs of neighbouring strokes, one of each direction, with its standard
 * uncertainty: what a table that shakes does to a rising stroke it mostly undoes on
 * the falling one after it, and the scatter of the pairs knows that. `null` for too
 * few pairs.
 */
function pairedMean(
  strokes: readonly CountedStroke[],
  used: readonly boolean[],
  jumping: boolean,
): Quantity | null {
  const pairs: { steps: number; variance: number }[] = [];
  for (let i = 0; i + 1 < strokes.length; i++) {
    const [a, b] = [strokes[i]!, strokes[i + 1]!];
    if (!used[i] || !used[i + 1] || a.direction === b.direction) continue;
    pairs.push({
      steps: (a.steps + b.steps) / 2,
      variance: (a.standardUncertainty ** 2 + b.standardUncertainty ** 2) / 4,
    });
    i++;
  }
  const n = pairs.length;
  if (n < leastPairs) return null;
  const mean = pairs.reduce((sum, { steps }) => sum + steps, 0) / n;
  const noise = pairs.reduce((sum, { variance }) => sum + variance, 0) / n;
  const scatter = pairs.reduce(
    (sum, { steps }) => sum + (steps - mean) ** 2,
    0,
  );
  const excess = scatter / noise > chiSquareQuantile(0.99, n - 1);
  return quantity(
    mean,
    Math.sqrt((excess ? scatter / (n - 1) : noise) / n),
    "1",
    { degreesOfFreedom: excess ? n - 1 : jumping ? 4 * n : Infinity },
  );
}

/** Largest difference of some strokes from the middle of others of their direction. */
function farthestOf(
  some: readonly CountedStroke[],
  others: readonly CountedStroke[],
): number {
  const differences = some.map(({ steps, direction }) => {
    const same = others.filter((other) => other.direction === direction);
    const middle = median(
      (same.length > 0 ? same : others).map((s) => s.steps),
    );
    return Math.abs(steps - middle);
  });
  return Math.max(0, ...differences.filter(Number.isFinite));
}

function directionMean(
  strokes: readonly CountedStroke[],
  jumping: boolean,
): DirectionMean | null {
  const n = strokes.length;
  if (n === 0) return null;
  const mean = strokes.reduce((sum, { steps }) => sum + steps, 0) / n;
  const noise = strokes.reduce(
    (sum, { standardUncertainty }) => sum + standardUncertainty ** 2,
    0,
  ) / n;
  const scatter = strokes.reduce(
    (sum, { steps }) => sum + (steps - mean) ** 2,
    0,
  );
  const excess = n > 1 &&
    scatter / noise > chiSquareQuantile(0.99, n - 1);
  const variance = excess ? scatter / (n - 1) / n : noise / n;
  return {
    steps: quantity(mean, Math.sqrt(variance), "1", {
      degreesOfFreedom: excess ? n - 1 : jumping ? 2 * n : Infinity,
    }),
    strokes: n,
  };
}

function median(values: number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = Math.floor(sorted.length / 2);
  return sorted.length % 2 === 1
    ? sorted[middle]!
    : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
