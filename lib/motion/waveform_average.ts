import { checkpoint } from "../progress/mod.ts";
import type { Displacement } from "./measure_displacement.ts";
import { SampleSlopes } from "./sample_slopes.ts";

/** The mean of a motion's periods, and that of groups of them. */
export interface WaveformAverage {
  /** Mean displacement at even places of the period, about its mean, in m. */
  readonly mean: Float64Array;
  /** The same of groups of neighbouring periods. */
  readonly groups: readonly Float64Array[];
  /** Periods in each group. */
  readonly periodsInGroup: readonly number[];
  /** Mean squared distance of the samples from the places, in squared places. */
  readonly scatter: number;
  /** Whole periods of the record. */
  readonly periods: number;
  /** Periods left out, for gaps or for a motion that is not that of the others. */
  readonly leftOut: number;
  /** Drift, in m, at the middle of each whole period. */
  readonly drift: Float64Array;
  /** Part of the motion's square that comes back with the period (1). */
  readonly periodicity: number;
}

const mostPlaces = 1024;
const mostGroups = 16;
/** Samples read at once. */
const chunk = 4096;
/** A sample less sure than this, in m, and than so many of the usual. */
const misread = { least: 10e-9, times: 8 };
/** A period further than this from the mean, in m, and than so many of the usual. */
const strange = { rms: 40e-9, times: 4 };

/**
 * Averages the whole periods of a motion. Their means are its drift, with parabolas
 * through them, and taken off. Where the spline of the
 * displacement misses the signal alike in each period, the signal's residuals say
 * by how much: they are averaged too.
 *
 * @param displacement The displacement.
 * @param frequency Frequency of the periods, in Hz.
 */
export function averagePeriods(
  displacement: Displacement,
  frequency: number,
): WaveformAverage {
  const x = displacement.displacement;
  const period = displacement.samplingRate / frequency;
  const periods = Math.floor((x.length - 1) / period);
  const places = Math.min(mostPlaces, Math.round(period));
  const drift = driftOfPeriods(x, period, periods);
  const usable = Uint8Array.from(drift, (value) => value === value ? 1 : 0);
  const driftAt = driftThrough(drift);
  const groupCount = Math.min(mostGroups, periods);
  const group = (k: number) => Math.floor(k * groupCount / periods);
  const own = displacement.standardUncertainty;
  const sure = sureBelow(own);
  const gather = () => {
    const sums = Array.from({ length: groupCount }, () => new Sums(places));
    const slopes = new SampleSlopes(displacement, chunk);
    const end = Math.floor(periods * period);
    for (let first = 0; first < end; first += chunk) {
      checkpoint(first / end, "average the periods");
      const last = Math.min(end, first + chunk);
      slopes.read(first, last);
      for (let i = first; i < last; i++) {
        const turns = i / period;
        const k = Math.floor(turns);
        // Where a turn reads as well the other way, a place is not known.
        if (usable[k] !== 1 || !(own[i]! < sure)) continue;
        sums[group(k)]!.take(
          (turns - k) * places,
          x[i]! - driftAt(turns - 0.5),
          slopes,
          i - first,
        );
      }
    }
    return sums;
  };
  let sums = gather();
  const left = leaveOutStrange(x, period, usable, driftAt, middleOf(sums));
  if (left > 0) sums = gather();
  const periodsInGroup = sums.map((_, g) =>
    usable.reduce(
      (count, one, k) => count + (one === 1 && group(k) === g ? 1 : 0),
      0,
    )
  );
  const full = sums.filter((_, g) => periodsInGroup[g]! > 0);
  const all = Sums.joined(full, places);
  const spread = all.unevenness();
  const { metresPerRadian, fringeForm } = displacement.diagnostics;
  const noise = new SampleSlopes(displacement, 1).noise;
  const prior = noise * noise /
    Math.max(
        fringeForm.uncertainty,
        displacement.rmsUncertainty / metresPerRadian,
        1e-6,
      ) ** 2;
  const correction = all.correction(prior, metresPerRadian);
  const mean = all.shape(correction, null);
  return {
    mean,
    groups: full.map((one) => one.shape(correction, mean)),
    periodsInGroup: periodsInGroup.filter((count) => count > 0),
    scatter: spread,
    periods,
    leftOut: usable.length - periodsInGroup.reduce((a, b) => a + b, 0),
    drift,
    periodicity: periodicityOf(x, period, usable, driftAt, mean),
  };
}

/** Uncertainty from which on a sample may be misread, in m. */
function sureBelow(uncertainty: Float32Array): number {
  const step = Math.max(1, Math.floor(uncertainty.length / 4096));
  const some = uncertainty.filter((u, i) => i % step === 0 && u === u).sort();
  return Math.max(misread.least, misread.times * (some[some.length >> 1] ?? 0));
}

/** Sums over the samples near each place of the period. */
class Sums {
  readonly places: number;
  readonly count: Float64Array;
  readonly value: Float64Array;
  readonly offset: Float64Array;
  readonly offsetSquare: Float64Array;
  /** Σ w g r and Σ w g² of the residuals. */
  readonly pull: Float64Array;
  readonly weight: Float64Array;

  constructor(places: number) {
    this.places = places;
    const make = () => new Float64Array(places);
    this.count = make();
    this.value = make();
    this.offset = make();
    this.offsetSquare = make();
    this.pull = make();
    this.weight = make();
  }

  take(at: number, value: number, slopes: SampleSlopes, k: number): void {
    const near = Math.round(at);
    const place = near === this.places ? 0 : near;
    const offset = at - near;
    this.count[place]!++;
    this.value[place]! += value;
    this.offset[place]! += offset;
    this.offsetSquare[place]! += offset * offset;
    const wg = slopes.weight[k]! * slopes.slope[k]!;
    this.pull[place]! += wg * slopes.residual[k]!;
    this.weight[place]! += wg * slopes.slope[k]!;
  }

  static joined(all: readonly Sums[], places: number): Sums {
    const sum = new Sums(places);
    for (const one of all) {
      for (let j = 0; j < places; j++) {
        sum.count[j]! += one.count[j]!;
        sum.value[j]! += one.value[j]!;
        sum.offset[j]! += one.offset[j]!;
        sum.offsetSquare[j]! += one.offsetSquare[j]!;
        sum.pull[j]! += one.pull[j]!;
        sum.weight[j]! += one.weight[j]!;
      }
    }
    return sum;
  }

  /** Mean squared distance from the places, in squared places. */
  unevenness(): number {
    let squares = 0, count = 0;
    for (let j = 0; j < this.places; j++) {
      squares += this.offsetSquare[j]! -
        this.offset[j]! ** 2 / Math.max(1, this.count[j]!);
      count += this.count[j]!;
    }
    return squares / Math.max(1, count);
  }

  /** How far the spline misses the signal at each place, in m. */
  correction(prior: number, metresPerRadian: number): Float64Array {
    return this.pull.map((pull, j) =>
      metresPerRadian * pull / (this.weight[j]! + prior)
    );
  }

  /**
   * Means at the places, about their mean.
   *
   * @param correction What is added, in m.
   * @param usual Taken at places that no sample fell to; else straight lines.
   */
  shape(correction: Float64Array, usual: Float64Array | null): Float64Array {
    const { places } = this;
    const raw = this.value.map((sum, j) =>
      this.count[j]! > 0 ? sum / this.count[j]! : NaN
    );
    fillPlaces(raw);
    const even = raw.map((value, j) => {
      // From the samples' mean place to the place itself.
      const offset = this.count[j]! > 0 ? this.offset[j]! / this.count[j]! : 0;
      const slope = (raw[(j + 1) % places]! - raw[(j + places - 1) % places]!) /
        2;
      return value - offset * slope + correction[j]!;
    });
    if (usual !== null) {
      for (let j = 0; j < places; j++) {
        if (this.count[j] === 0) even[j] = usual[j]!;
      }
    }
    const mean = even.reduce((sum, value) => sum + value / places, 0);
    return even.map((value) => value - mean);
  }
}

/** Places that no sample fell to: straight between their neighbours. */
function fillPlaces(values: Float64Array): void {
  const n = values.length;
  const known = values.findIndex((value) => value === value);
  if (known < 0) return;
  let last = known;
  for (let k = 1; k <= n; k++) {
    const j = (known + k) % n;
    if (values[j] !== values[j]) continue;
    const gap = (j - last + n) % n || n;
    for (let m = 1; m < gap; m++) {
      values[(last + m) % n] = values[last]! +
        (values[j]! - values[last]!) * m / gap;
    }
    last = j;
  }
}

/** Mean of each whole period, the parts of samples at its ends included. */
function driftOfPeriods(
  x: Float64Array,
  period: number,
  periods: number,
): Float64Array {
  // Σ of trapezoids from the first sample to a place between samples.
  const upTo = (place: number, from: number, sum: number) => {
    let total = sum;
    const last = Math.floor(place);
    for (let i = from; i < last; i++) total += (x[i]! + x[i + 1]!) / 2;
    const part = place - last;
    const end = x[last]! + part * ((x[last + 1] ?? x[last]!) - x[last]!);
    return { total, last, end: total + part * (x[last]! + end) / 2 };
  };
  const drift = new Float64Array(periods);
  for (let k = 0; k < periods; k++) {
    const from = k * period;
    const first = Math.floor(from);
    const start = upTo(from, first, 0);
    const end = upTo(from + period, first, 0);
    drift[k] = (end.end - start.end) / period;
  }
  return drift;
}

/**
 * The drift at a time in periods, of which whole numbers are the middles of
 * periods: parabolas that have the means of three neighbours.
 */
function driftThrough(means: Float64Array): (at: number) => number {
  const n = means.length;
  const filled = means.slice();
  let last = filled.find((value) => value === value) ?? 0;
  for (let k = 0; k < n; k++) {
    if (filled[k] === filled[k]) last = filled[k]!;
    else filled[k] = last;
  }
  return (at) => {
    if (n < 3) return filled[0]! + (n < 2 ? 0 : (filled[1]! - filled[0]!) * at);
    const k = Math.max(1, Math.min(n - 2, Math.round(at)));
    const u = at - k;
    const before = filled[k - 1]!, own = filled[k]!, after = filled[k + 1]!;
    return own + (after - before) / 2 * u +
      (after - 2 * own + before) / 2 * (u * u - 1 / 12);
  };
}

/** Median over the groups of the mean at each place. */
function middleOf(sums: readonly Sums[]): Float64Array {
  const { places } = sums[0]!;
  const middle = new Float64Array(places);
  for (let j = 0; j < places; j++) {
    const own = sums.filter(({ count }) => count[j]! > 0).map((
      { value, count },
    ) => value[j]! / count[j]!).sort((a, b) => a - b);
    middle[j] = own.length === 0
      ? NaN
      : (own[own.length >> 1]! + own[(own.length - 1) >> 1]!) / 2;
  }
  fillPlaces(middle);
  return middle;
}

function distances(
  x: Float64Array,
  period: number,
  usable: Uint8Array,
  driftAt: (at: number) => number,
  middle: Float64Array,
): Float64Array {
  const places = middle.length;
  const squares = new Float64Array(usable.length);
  for (let k = 0; k < usable.length; k++) {
    const first = Math.ceil(k * period);
    const end = Math.ceil((k + 1) * period);
    let count = 0;
    for (let i = first; i < end && i < x.length; i++) {
      const turns = i / period;
      const value = x[i]! - driftAt(turns - 0.5);
      if (value !== value) continue;
      const at = (turns - k) * places;
      const j = Math.floor(at);
      const a = middle[j % places]!, b = middle[(j + 1) % places]!;
      squares[k]! += (value - a - (b - a) * (at - j)) ** 2;
      count++;
    }
    if (usable[k] === 1 && count === 0) usable[k] = 0;
    squares[k]! /= Math.max(1, count);
  }
  return squares;
}

/** Marks periods that are not like the others; returns how many. */
function leaveOutStrange(
  x: Float64Array,
  period: number,
  usable: Uint8Array,
  driftAt: (at: number) => number,
  middle: Float64Array,
): number {
  const squares = distances(x, period, usable, driftAt, middle);
  const own = squares.filter((_, k) => usable[k] === 1).sort();
  const usual = Math.sqrt(own[own.length >> 1] ?? 0);
  const limit = Math.max(strange.rms, strange.times * usual);
  let left = 0;
  for (let k = 0; k < usable.length; k++) {
    if (usable[k] === 1 && Math.sqrt(squares[k]!) > limit) {
      usable[k] = 0;
      left++;
    }
  }
  return left;
}

function periodicityOf(
  x: Float64Array,
  period: number,
  usable: Uint8Array,
  driftAt: (at: number) => number,
  mean: Float64Array,
): number {
  const squares = distances(x, period, usable, driftAt, mean);
  let rest = 0, count = 0;
  squares.forEach((square, k) => {
    if (usable[k] !== 1) return;
    rest += square;
    count++;
  });
  const motion = mean.reduce((sum, value) => sum + value * value, 0) /
    mean.length;
  return count === 0 ? 0 : motion / (motion + rest / count);
}
