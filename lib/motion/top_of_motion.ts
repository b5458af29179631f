/** A displacement as it was tracked, in one unit. */
export interface TrackedCourse {
  /** Values; `NaN` in gaps. */
  readonly values: Float64Array;
  /** Standard uncertainty of each. */
  readonly uncertainty: Float32Array;
  /** Sample indices of the turning points. */
  readonly turningPoints: Int32Array;
  /** Samples between knots of the spline. */
  readonly spacing: number;
}

/** The highest (or lowest) place of a motion. */
export interface Top {
  readonly value: number;
  readonly uncertainty: number;
  /** A sample index where it is. */
  readonly index: number;
}

/** One turn at the top, and how well it is known. */
interface Peak {
  readonly index: number;
  readonly height: number;
  readonly uncertainty: number;
}

/** Parts of the swing that a top is looked at over, the widest first. */
const depths = [0.05, 0.02, 0.006] as const;
/** Residuals of a fitted top over the noise, at most. */
const fits = 1.5;
/** Turns further below the highest, in standard uncertainties, are not at the top. */
const belowTop = 12;
/**
 * So many standard uncertainties an end must lie above the turns: a spline swings
 * more at its ends than it says.
 */
const sureEnd = 5;
/**
 * What a spline smooths away of a turn is alike in all of them: so much of the
 * uncertainty of one does not average out.
 */
const lastingPart = 0.1;
/** Scatter of turns of one height over their uncertainty, at most (1). */
const mostScatter = 2;
/** Variance of the middle of a fitted quartic over that of the mean (1). */
const quarticGain = 225 / 64;

/**
 * The highest place of a motion. The largest of many noisy samples lies above it,
 * the more of them there are; so each turn is fitted with a quartic over its top,
 * and turns that come back to one height within their noise are averaged, in
 * stretches as long as Schwarz's criterion allows.
 *
 * @param course The displacement.
 * @param sign 1 for the highest place, -1 for the lowest.
 * @param highest Index of the highest (lowest) sample.
 * @returns Its place, with the uncertainty that comes from noise.
 */
export function topOfMotion(
  course: TrackedCourse,
  sign: 1 | -1,
  highest: number,
): Top {
  const { values, uncertainty } = course;
  const sample: Top = {
    value: values[highest]!,
    uncertainty: uncertainty[highest]!,
    index: highest,
  };
  const peaks = peaksOf(course, sign);
  if (peaks.length === 0) return sample;
  const best = peaks.reduce((a, b) => b.height > a.height ? b : a);
  const top = steadiest(
    peaks.filter(({ height, uncertainty }) =>
      height > best.height - belowTop * Math.max(uncertainty, best.uncertainty)
    ),
  );
  // The record may end, or break off, higher than at any turn.
  const isTurn = course.turningPoints.some((turn) =>
    Math.abs(turn - highest) <= 2 * course.spacing
  );
  const above = sign * sample.value - top.value;
  if (
    !isTurn && above > sureEnd * Math.hypot(top.uncertainty, sample.uncertainty)
  ) return sample;
  return { ...top, value: sign * top.value };
}

/** The turns at the top, each fitted, with the sign that makes them maxima. */
function peaksOf(
  { values, uncertainty, turningPoints, spacing }: TrackedCourse,
  sign: 1 | -1,
): Peak[] {
  const peaks: Peak[] = [];
  const last = values.length - 1;
  for (let j = 0; j < turningPoints.length; j++) {
    const index = turningPoints[j]!;
    const before = turningPoints[j - 1] ?? 0;
    const after = turningPoints[j + 1] ?? last;
    const own = sign * values[index]!;
    const drops = [own - sign * values[before]!, own - sign * values[after]!]
      .filter((drop) => drop === drop);
    const swing = Math.min(...drops);
    if (!(swing > 0) || !Number.isFinite(swing)) continue;
    peaks.push(
      fittedPeak(values, sign, index, {
        from: before,
        to: after,
        swing,
        u: uncertainty[index]!,
        spacing,
      }),
    );
  }
  return peaks;
}

function fittedPeak(
  values: Float64Array,
  sign: 1 | -1,
  index: number,
  { from, to, swing, u, spacing }: {
    from: number;
    to: number;
    swing: number;
    u: number;
    spacing: number;
  },
): Peak {
  const top = values[index]!;
  const plain = { index, height: sign * top, uncertainty: u };
  for (const depth of depths) {
    const least = depth * swing;
    if (least < 2 * u) break;
    const inside = (i: number) => Math.abs(values[i]! - top) <= least;
    let first = index, last = index;
    while (first > from && inside(first - 1)) first--;
    while (last < to && inside(last + 1)) last++;
    const knots = (last - first + 1) / spacing;
    // With fewer knots there is nothing to average.
    if (knots < 6 || last - first < 10) break;
    const fit = quarticTop(values, sign, first, last);
    if (fit === null || fit.residual > fits * u) continue;
    return {
      index,
      height: fit.height,
      uncertainty: u * Math.min(1, Math.sqrt(quarticGain / knots)),
    };
  }
  return plain;
}

/** Highest value of a quartic through some samples, and what it leaves. */
function quarticTop(
  values: Float64Array,
  sign: 1 | -1,
  first: number,
  last: number,
): { height: number; residual: number } | null {
  // Legendre polynomials are nearly orthogonal on many even places.
  const step = Math.max(1, Math.floor((last - first) / 256));
  const count = Math.floor((last - first) / step) + 1;
  const place = (k: number) => 2 * k / (count - 1) - 1;
  const size = 5;
  const normal = Array.from({ length: size }, () => new Float64Array(size + 1));
  const origin = values[first]!;
  for (let k = 0; k < count; k++) {
    const basis = legendre(place(k));
    const y = sign * (values[first + k * step]! - origin);
    for (let a = 0; a < size; a++) {
      for (let b = 0; b < size; b++) normal[a]![b]! += basis[a]! * basis[b]!;
      normal[a]![size]! += basis[a]! * y;
    }
  }
  const c = eliminate(normal);
  if (c === null) return null;
  const at = (u: number) =>
    legendre(u).reduce((sum, value, a) => sum + value * c[a]!, 0);
  let squares = 0;
  for (let k = 0; k < count; k++) {
    const y = sign * (values[first + k * step]! - origin);
    squares += (y - at(place(k))) ** 2;
  }
  let best = 0;
  for (let u = -0.8; u <= 0.8; u += 0.1) if (at(u) > at(best)) best = u;
  // A parabola about the best of these places.
  const d = 0.05;
  const [a, b, e] = [at(best - d), at(best), at(best + d)];
  const bend = a - 2 * b + e;
  const height = bend < 0 ? b - (e - a) ** 2 / 8 / bend : b;
  return {
    height: sign * origin + height,
    residual: Math.sqrt(squares / Math.max(1, count - size)),
  };
}

function legendre(u: number): number[] {
  const uu = u * u;
  return [
    1,
    u,
    (3 * uu - 1) / 2,
    u * (5 * uu - 3) / 2,
    (35 * uu * uu - 30 * uu + 3) / 8,
  ];
}

/** Solves a small symmetric system, right side in the last column. */
function eliminate(rows: readonly Float64Array[]): Float64Array | null {
  const n = rows.length;
  for (let k = 0; k < n; k++) {
    const pivot = rows[k]![k]!;
    if (!(pivot > 0)) return null;
    for (let i = 0; i < n; i++) {
      if (i === k) continue;
      const factor = rows[i]![k]! / pivot;
      for (let j = k; j <= n; j++) rows[i]![j]! -= factor * rows[k]![j]!;
    }
  }
  return Float64Array.from(rows, (row, k) => row[n]! / row[k]!);
}

/**
 * How much more neighbouring peaks scatter than their uncertainties say: a spline
 * with wide knots leaves some of the motion. Not more than at most, lest turns of
 * different heights be taken for noise.
 */
function scatterOf(peaks: readonly Peak[]): number {
  const ratios = peaks.slice(1).map((peak, k) =>
    (peak.height - peaks[k]!.height) ** 2 /
    (peak.uncertainty ** 2 + peaks[k]!.uncertainty ** 2)
  ).sort((a, b) => a - b);
  // The median of χ² with one degree of freedom.
  const median = (ratios[ratios.length >> 1] ?? 1) / 0.4549;
  return Math.sqrt(Math.min(mostScatter ** 2, Math.max(1, median)));
}

/**
 * The highest mean of stretches of peaks, as long as the peaks allow.
 *
 * Source: Schwarz 1978, Ann. Statist. 6, 461.
 */
function steadiest(own: readonly Peak[]): Top {
  const n = own.length;
  // A peak that noise has lifted looks surer or less sure: all weigh alike.
  const usual = Math.sqrt(
    own.reduce((sum, { uncertainty }) => sum + uncertainty ** 2, 0) / n,
  );
  const uncertainty = scatterOf(own) * usual;
  const lasting = lastingPart * uncertainty;
  const peaks = own.map((peak) => ({ ...peak, uncertainty }));
  let best: { cost: number; top: Top } | null = null;
  for (let length = n;; length = Math.ceil(length / 3)) {
    const stretches = Math.max(1, Math.round(n / length));
    let cost = Math.max(2, Math.log(n)) * stretches;
    let top: Top | null = null;
    for (let s = 0; s < stretches; s++) {
      const part = peaks.slice(
        Math.round(s * n / stretches),
        Math.round((s + 1) * n / stretches),
      );
      const mean = meanOf(part);
      cost += mean.chiSquare;
      if (top === null || mean.value > top.value) top = mean;
    }
    // What a stretch hides of a course is as much as its noise.
    const hidden = stretches === 1 ? 1 : Math.SQRT2;
    const widened = {
      ...top!,
      uncertainty: Math.hypot(hidden * top!.uncertainty, lasting),
    };
    if (best === null || cost < best.cost) best = { cost, top: widened };
    if (length === 1) return best.top;
  }
}

/** Weighted mean, widened where the values scatter more (Birge). */
function meanOf(peaks: readonly Peak[]): Top & { chiSquare: number } {
  let weight = 0, sum = 0;
  for (const { height, uncertainty } of peaks) {
    const w = 1 / Math.max(uncertainty, 1e-300) ** 2;
    weight += w;
    sum += w * height;
  }
  const value = sum / weight;
  let chiSquare = 0;
  let highest = peaks[0]!;
  for (const peak of peaks) {
    chiSquare += ((peak.height - value) / Math.max(peak.uncertainty, 1e-300)) **
      2;
    if (peak.height > highest.height) highest = peak;
  }
  const ratio = peaks.length > 1 ? chiSquare / (peaks.length - 1) : 1;
  return {
    value,
    uncertainty: Math.sqrt(Math.max(1, ratio) / weight),
    index: highest.index,
    chiSquare,
  };
}
