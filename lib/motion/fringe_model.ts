/**
 * The form of a fringe at one feedback, tabulated along one branch of the
 * excess-phase equation.
 *
 * With x = φF + ψ and ψ = arctan α the equation reads t = x + C sin x where
 * t = φ0 + ψ. Branch m is |x - 2πm| ≤ arccos(-1/C) for C > 1, and a whole turn
 * for C ≤ 1. The signal is y = cos φF and its slope
 * dy/dφ0 = -sin φF / (1 + C cos x).
 *
 * Feedback is written as p = C cos ψ, q = C sin ψ, in which the equation is
 * linear: φ0 = φF + p sin φF + q cos φF. Any ψ is allowed: ψ in the first
 * quadrant is a diode; -ψ is the same diode with the motion reversed; ψ + π is
 * the same diode with the signal inverted.
 */
export interface FringeModel {
  /** C cos ψ (1). */
  readonly p: number;
  /** C sin ψ (1). */
  readonly q: number;
  /** Feedback parameter C (1). */
  readonly feedback: number;
  /** ψ, in rad. */
  readonly shift: number;
  /** Half of the branch in t, in rad: beyond it φF jumps (C > 1). */
  readonly reach: number;
  /** Entries of the inverse table per rad of t. */
  readonly perRadian: number;
  /** From t - 2πm + reach to an entry of the tables below. */
  readonly entryOf: Uint16Array;
  /** y = cos φF (1). */
  readonly signal: Float64Array;
  /** sin φF (1). */
  readonly sine: Float64Array;
  /** φ0 - 2πm, in rad. */
  readonly phase: Float64Array;
  /** dy/dφ0, in 1/rad. */
  readonly slope: Float64Array;
  /** Weight of a sample: 1, less where the slope is not to be trusted (1). */
  readonly weight: Float64Array;
}

/** Entries of a table. */
const usualEntries = 2048;
/** Entries of the inverse table for each of a table. */
const inversePerEntry = 2;
/** cos x and sin x of grids without folds, by their entries. */
const wholeTurns = new Map<number, ReturnType<typeof trigonometryOf>>();
let latest:
  | { p: number; q: number; models: Map<number, FringeModel> }
  | null = null;

/**
 * Tabulates a fringe.
 *
 * @param p C cos ψ (1).
 * @param q C sin ψ (1).
 * @param relativeNoise Noise over the amplitude (1); near a fold, where the slope grows
 * without limit, samples weigh no more than the noise lets them.
 * @returns The tables.
 */
export function fringeModel(
  p: number,
  q: number,
  relativeNoise: number,
): FringeModel {
  const noise = roundedNoise(relativeNoise);
  // The same fringe is asked for again and again while a reading is mended.
  if (latest?.p !== p || latest.q !== q) latest = { p, q, models: new Map() };
  let model = latest.models.get(noise);
  if (model === undefined) {
    model = tabulated(p, q, noise, usualEntries);
    latest.models.set(noise, model);
  }
  return model;
}

/** Noise only weighs samples: it is rounded to steps of its logarithm. */
const noiseStep = 0.2;

/** A noise that many share, so that their tables are the same. */
export function roundedNoise(noise: number): number {
  return Math.exp(noiseStep * Math.round(Math.log(noise) / noiseStep));
}

/** The same with so many entries, made anew. */
export function tabulated(
  p: number,
  q: number,
  noise: number,
  entries: number,
): FringeModel {
  const inverseEntries = inversePerEntry * entries;
  const feedback = Math.hypot(p, q);
  const shift = feedback === 0 ? 0 : Math.atan2(q, p);
  const folded = feedback > 1;
  const fold = folded ? Math.acos(-1 / feedback) : Math.PI;
  const reach = folded ? fold + Math.sqrt(feedback * feedback - 1) : Math.PI;
  const { x, cosine, sine: sines } = folded
    ? trigonometryOf(gridOf(fold, true, entries))
    : wholeTurnOf(entries);
  const signal = new Float64Array(entries);
  const sine = new Float64Array(entries);
  const phase = new Float64Array(entries);
  const slope = new Float64Array(entries);
  const weight = new Float64Array(entries);
  const entryOf = new Uint16Array(inverseEntries + 2);
  const perRadian = inverseEntries / (2 * reach);
  const least = Math.max(noise, 1e-4);
  const cosShift = Math.cos(shift);
  const sinShift = Math.sin(shift);
  let filled = 0;
  for (let j = 0; j < entries; j++) {
    const c = cosine[j]!;
    const d = sines[j]!;
    const derivative = Math.max(1 + feedback * c, 1e-9);
    const s = d * cosShift - c * sinShift;
    const t = x[j]! + feedback * d;
    signal[j] = c * cosShift + d * sinShift;
    sine[j] = s;
    phase[j] = t - shift;
    slope[j] = -s / derivative;
    const curvature = feedback * d * least / derivative;
    // Falls faster than the slope's square grows, so that a sample which the
    // spline puts at the very fold claims no more than it knows.
    weight[j] = 1 /
      (1 + 0.5 * curvature * curvature / Math.max(s * s, least * least)) ** 2;
    const end = Math.min(
      inverseEntries + 1,
      Math.floor((t + reach) * perRadian),
    );
    while (filled <= end) entryOf[filled++] = j;
  }
  while (filled < entryOf.length) entryOf[filled++] = entries - 1;
  return {
    p,
    q,
    feedback,
    shift,
    reach,
    perRadian,
    entryOf,
    signal,
    sine,
    phase,
    slope,
    weight,
  };
}

function wholeTurnOf(entries: number) {
  let made = wholeTurns.get(entries);
  if (made === undefined) {
    made = trigonometryOf(gridOf(Math.PI, false, entries));
    wholeTurns.set(entries, made);
  }
  return made;
}

/** Places x of the entries; close together towards folds like the phase is. */
function gridOf(
  fold: number,
  folded: boolean,
  entries: number,
): Float64Array {
  const x = new Float64Array(entries);
  for (let j = 0; j < entries; j++) {
    const place = (j + 0.5) / entries * 2 - 1;
    x[j] = fold * (folded ? place * (1.5 - 0.5 * place * place) : place);
  }
  return x;
}

function trigonometryOf(x: Float64Array) {
  const n = x.length;
  const cosine = new Float64Array(n);
  const sine = new Float64Array(n);
  // The grid is the same on both sides of 0.
  for (let j = 0; j < n >> 1; j++) {
    const c = Math.cos(x[j]!);
    const s = Math.sin(x[j]!);
    cosine[j] = cosine[n - 1 - j] = c;
    sine[j] = s;
    sine[n - 1 - j] = -s;
  }
  return { x, cosine, sine };
}

/** Where φF jumps while φ0 rises (C > 1): φ0 - 2πm, sin φF and cos φF there. */
export interface Fold {
  /** φ0 - 2πm at the end of the branch, in rad. */
  readonly phase: number;
  /** sin φF there (1). */
  readonly sine: number;
  /** cos φF there (1). */
  readonly cosine: number;
}

/** The upper (1) or lower (-1) end of the branch; for C > 1. */
export function branchEnd(model: FringeModel, side: number): Fold {
  const x = side * Math.acos(-1 / Math.max(1, model.feedback));
  return {
    phase: side * model.reach - model.shift,
    sine: Math.sin(x - model.shift),
    cosine: Math.cos(x - model.shift),
  };
}
