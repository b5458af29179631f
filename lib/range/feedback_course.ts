import { followBranch } from "./branch_table.ts";
import { legendreColumns } from "./normal_equations.ts";

/** The phase with feedback along a stroke at some parameters. */
export interface FeedbackCourse {
  /** z = φF + arctan α of each sample, less whole turns, in rad. */
  readonly angle: Float64Array;
  /** cos z and sin z of each sample (1). */
  readonly cosine: Float64Array;
  readonly sine: Float64Array;
  /** 0 for samples next to a jump or past the end of a branch, else 1. */
  readonly weight: Float64Array;
  /** Jumps inside the stroke. */
  readonly jumps: readonly FeedbackJump[];
}

/** A jump of the phase with feedback. */
export interface FeedbackJump {
  /** First sample after it. */
  readonly index: number;
  /** When it was, in samples, with the fraction that the signal shows. */
  readonly position: number;
  /** When t reaches the end of the branch, in samples. */
  readonly crossing: number;
  /** t at which the branch before ends, in rad. */
  readonly end: number;
  /** Whether samples fall on the edge, so that the fraction means something. */
  readonly resolved: boolean;
  /** Current there, from -1 to 1 on the ramp (1); set by the caller. */
  readonly x: number;
  /** 1 where t rises, -1 where it falls. */
  readonly sign: 1 | -1;
  /** Change of t from sample to sample, in rad. */
  readonly perSample: number;
}

/** What the signal would be at z, per sample: used to place the jumps. */
export interface FringeSignal {
  /** Signal minus power ramp. */
  readonly fringes: Float64Array;
  /** Amplitudes of cos z and sin z of each sample. */
  readonly cosine: (i: number) => number;
  readonly sine: (i: number) => number;
}

/**
 * Follows t = z + C sin z along a stroke. For C > 1 the branch is that of the
 * other direction at the turning point, and is kept until it ends. With a
 * signal at hand each jump is moved, by up to 15 % of a fringe, to where the
 * signal jumps: the branches then follow the data, and the model stays smooth
 * in its parameters.
 *
 * @param x Current of each sample, from -1 to 1 on the ramp (1).
 * @param t t of each sample, in order of time, monotonic.
 * @param turn t at the turning point before the stroke.
 * @param c Feedback parameter C (1).
 * @param signal The signal, or `null` to leave the jumps where t puts them.
 */
export function followFeedback(
  x: Float64Array,
  t: Float64Array,
  turn: number,
  c: number,
  signal: FringeSignal | null,
): FeedbackCourse {
  const n = t.length;
  const weight = new Float64Array(n).fill(1);
  if (c <= 1) {
    const offset = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      offset[i] = t[i]! - 2 * Math.PI * Math.round(t[i]! / (2 * Math.PI));
    }
    const branch = followBranch(offset, c, Math.PI);
    const { angle } = branch;
    for (let i = 0; i < n; i++) angle[i]! += t[i]! - offset[i]!;
    return { ...branch, weight, jumps: [] };
  }
  const reach = reachOf(c);
  const sign = t[n - 1]! > t[0]! ? 1 as const : -1 as const;
  // Mirrored if t falls, so that t rises in what follows.
  const rise = sign > 0 ? t : negated(t);
  const start = sign * turn;
  // Before the turn t fell: m = floor((t + reach) / 2π).
  let branch = Math.floor((start + reach) / (2 * Math.PI));
  const perSample = (rise[n - 1]! - rise[0]!) / (n - 1);
  const room = Math.max(2, Math.round(0.15 * 2 * Math.PI / perSample));
  const jumps: number[] = [];
  const crossings: number[] = [];
  const branches: number[] = [branch];
  for (;;) {
    const next = crossing(rise, 2 * Math.PI * branch + reach, perSample);
    if (next > n + room) break;
    jumps.push(Math.max(0, Math.min(n, Math.ceil(next))));
    crossings.push(next);
    branches.push(++branch);
    if (jumps.length > n) break;
  }
  if (signal !== null) {
    jumps.forEach((jump, k) => {
      const low = Math.max(jumps[k - 1] ?? 0, jump - room, 0);
      const high = Math.min(jumps[k + 1] ?? n, jump + room, n);
      jumps[k] = placeJump(
        rise,
        sign,
        branches[k]!,
        c,
        reach,
        signal,
        low,
        high,
      );
    });
  }
  const offset = new Float64Array(n);
  let k = 0;
  for (let i = 0; i < n; i++) {
    while (k < jumps.length && i >= jumps[k]!) k++;
    const value = rise[i]! - 2 * Math.PI * branches[k]!;
    offset[i] = Math.max(-reach, Math.min(reach, value));
    if (offset[i] !== value) weight[i] = 0;
  }
  const branchAngles = followBranch(offset, c, reach);
  const { cosine } = branchAngles;
  const angle = sign > 0 ? branchAngles.angle : negated(branchAngles.angle);
  const sine = sign > 0 ? branchAngles.sine : negated(branchAngles.sine);
  const inside: FeedbackJump[] = [];
  const tail = Math.max(1, Math.min(3, Math.round(0.2 * room)));
  jumps.forEach((index, k) => {
    if (index <= 0 || index >= n) return;
    for (let i = Math.max(0, index - 2); i < Math.min(n, index + tail); i++) {
      weight[i] = 0;
    }
    const { area, smear } = signal === null
      ? { area: 0, smear: 0 }
      : transition(signal, angle, index, tail);
    inside.push({
      index,
      position: index - 0.5 + area,
      crossing: crossings[k]!,
      x: at(x, index - 0.5 + area),
      sign,
      perSample,
      resolved: smear > 0.2,
      end: sign * (2 * Math.PI * branches[k]! + reach),
    });
  });
  return { angle, cosine, sine, weight, jumps: inside };
}

function negated(values: Float64Array): Float64Array {
  const out = new Float64Array(values.length);
  for (let i = 0; i < out.length; i++) out[i] = -values[i]!;
  return out;
}

/**
 * When the signal crosses the middle between the levels before and after a
 * jump, in samples later than half-way between two samples, and how much of the
 * edge falls on samples.
 */
function transition(
  signal: FringeSignal,
  angle: Float64Array,
  index: number,
  tail: number,
): { area: number; smear: number } {
  const n = angle.length;
  const none = { area: 0, smear: 0 };
  if (index < 2 || index + tail + 1 >= n) return none;
  const level = (i: number, z: number) =>
    signal.cosine(i) * Math.cos(z) + signal.sine(i) * Math.sin(z);
  const before = level(index - 2, angle[index - 2]!);
  const after = level(index + tail, angle[index + tail]!);
  const step = before - after;
  const size = Math.hypot(signal.cosine(index), signal.sine(index));
  if (!(Math.abs(step) > 0.3 * size)) return none;
  const part = (i: number) => (signal.fringes[i]! - after) / step;
  let smear = 0;
  let area = NaN;
  for (let i = index - 1; i <= index + tail; i++) {
    const [last, here] = [part(i - 1), part(i)];
    smear += here * (1 - here);
    if (Number.isNaN(area) && last > 0.5 && here <= 0.5) {
      area = i - 1 + (last - 0.5) / (last - here) - (index - 0.5);
    }
  }
  return { area: Number.isNaN(area) ? 0 : area, smear };
}

/**
 * t where the ramp turned round before a stroke.
 *
 * @param offset t at the middle of the ramp, in rad.
 * @param phase Phase against current: coefficients of Legendre polynomials, in rad.
 * @param rising Whether the current rises on the stroke.
 * @param shift Shift of the current by mode hops there (1).
 */
export function turningPhase(
  offset: number,
  phase: readonly number[],
  rising: boolean,
  shift: number,
): number {
  const end = Float64Array.of((rising ? -1 : 1) + shift);
  const polynomials = legendreColumns(end, phase.length);
  return phase.reduce(
    (t, value, k) => t - value * polynomials[k + 1]![0]!,
    offset,
  );
}

/** Half of a branch: arccos(-1/C) + √(C² - 1), in rad; π where C is below 1. */
export function reachOf(c: number): number {
  return c <= 1 ? Math.PI : Math.acos(-1 / c) + Math.sqrt(c * c - 1);
}

/** A value between samples. */
function at(values: Float64Array, position: number): number {
  const place = Math.max(0, Math.min(values.length - 1.001, position));
  const i = Math.floor(place);
  return values[i]! + (place - i) * (values[i + 1]! - values[i]!);
}

/** Where a rising course crosses a level, in samples; beyond the ends by slope. */
function crossing(
  rise: Float64Array,
  level: number,
  perSample: number,
): number {
  const n = rise.length;
  if (level <= rise[0]!) return (level - rise[0]!) / perSample;
  if (level >= rise[n - 1]!) return n - 1 + (level - rise[n - 1]!) / perSample;
  let low = 0;
  let high = n - 1;
  while (high - low > 1) {
    const middle = (low + high) >> 1;
    if (rise[middle]! < level) low = middle;
    else high = middle;
  }
  return low + (level - rise[low]!) / (rise[high]! - rise[low]!);
}

/** The first sample after the jump that leaves the least squared residual. */
function placeJump(
  rise: Float64Array,
  sign: number,
  branch: number,
  c: number,
  reach: number,
  signal: FringeSignal,
  low: number,
  high: number,
): number {
  const count = high - low;
  if (count <= 0) return low;
  const clamp = (value: number) => Math.max(-reach, Math.min(reach, value));
  const both = new Float64Array(2 * count);
  for (let i = 0; i < count; i++) {
    const value = rise[low + i]! - 2 * Math.PI * branch;
    both[i] = clamp(value);
    both[count + i] = clamp(value - 2 * Math.PI);
  }
  const { cosine, sine } = followBranch(both, c, reach);
  const squared = (i: number, at: number) =>
    (signal.fringes[low + i]! - signal.cosine(low + i) * cosine[at]! -
      signal.sine(low + i) * sign * sine[at]!) ** 2;
  // All after the jump; then one sample after another goes before it.
  let sum = 0;
  for (let i = 0; i < count; i++) sum += squared(i, count + i);
  let best = sum;
  let place = 0;
  for (let i = 0; i < count; i++) {
    sum += squared(i, i) - squared(i, count + i);
    if (sum < best) [best, place] = [sum, i + 1];
  }
  return low + place;
}
