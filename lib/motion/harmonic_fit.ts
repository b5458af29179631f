import { checkpoint } from "../progress/mod.ts";
import { SegmentedSystem } from "./harmonic_system.ts";
import type { Displacement } from "./measure_displacement.ts";
import { ModelSlopes } from "./model_slopes.ts";
import { ResidualGroups } from "./residual_groups.ts";
import { SampleSlopes } from "./sample_slopes.ts";
import { widenedByPieces } from "./widened_covariance.ts";

/** A sum of harmonics over a slow drift, fitted to every sample. */
export interface HarmonicFit {
  /** f in Hz, then a_h, b_h in m, of a cos 2πhft + b sin 2πhft from t = 0. */
  readonly parameters: readonly number[];
  /** Their covariance, widened where more than noise is left. */
  readonly covariance: readonly (readonly number[])[];
  /** Mean speed of the drift, in m/s, and its standard uncertainty. */
  readonly drift: { readonly value: number; readonly uncertainty: number };
  /** Noise left over that of the signal (1). */
  readonly excess: number;
  /** Root mean square of what is left over that of the motion (1). */
  readonly unexplained: number;
  readonly converged: boolean;
  /**
   * Whether the samples were fitted at the motion of the model itself: what was
   * misread in the displacement does not count then.
   */
  readonly isOfSamples: boolean;
  /** Times of the residuals, in s, and what is left there, in m. */
  readonly residualTimes: Float64Array;
  readonly residuals: Float64Array;
}

/** What is fitted. */
export interface HarmonicModel {
  /** Frequency to start from, in Hz: less than a quarter of a period off in all. */
  readonly frequency: number;
  readonly harmonics: number;
  /** Stretches of the drift; `null` for one straight line along the record. */
  readonly stretches: DriftStretches | null;
}

/** A drift that is a polynomial in each stretch of some periods. */
export interface DriftStretches {
  /** Periods of the vibration in a stretch (1). */
  readonly periods: number;
  /** Degree of the polynomial, 1 and more. */
  readonly degree: number;
}

/** Prior standard deviation of p, q and levels: they were fitted before. */
const loose = 0.2;
/** The same of what the amplifier takes from the fastest fringes (1). */
const lagging = 0.03;
/** Samples read at once. */
const chunk = 4096;
/** Samples of a segment with levels of its own, where they may drift. */
const levelSamples = 1 << 15;
const mostPasses = 12;
/**
 * Change over the standard uncertainty that no longer counts: it would widen the
 * uncertainty by 0.1 %. With jumps the changes go down by a sixth per pass only.
 */
const settled = 0.05;
/** The same after many passes: it would widen the uncertainty by a tenth. */
const loosely = 0.5;
/** Part of a step that is taken after as many: beside jumps steps go to and fro (1). */
const calmed = 0.5;
/** The same, so small that the samples may be looked at the model. */
const near = 30;
/** Motion that the model leaves is linear about the displacement up to here, in rad. */
const linearReach = 0.5;
/** Residuals over the noise up to which the model is what moves the target. */
const complete = 1.3;
/**
 * Part of the samples that must count at the motion of the model: none does where
 * it runs away from what moves the target.
 */
const fewest = 0.1;
/** Pieces of a record in which the residuals are looked at. */
const pieces = 256;

/**
 * Fits a drift and the harmonics of one frequency to every sample of a record, by
 * Gauss–Newton steps, with what the fringes leave open of their form (p, q,
 * levels): first on the signal about the displacement that was read, then on the
 * samples at the motion of the model itself. The normal equations are gathered
 * sample by sample, so no sample is put together with others.
 *
 * Source: IEEE Std 1057 (sine fit of four and more parameters).
 */
export function fitHarmonics(
  displacement: Displacement,
  model: HarmonicModel,
): HarmonicFit {
  const { harmonics } = model;
  const n = displacement.displacement.length;
  const { samplingRate, diagnostics: { metresPerRadian } } = displacement;
  const slopes = new SampleSlopes(displacement, chunk);
  const exact = slopes.isSignal ? new ModelSlopes(displacement) : null;
  const plan = planOf(model, displacement, slopes);
  const centre = (n - 1) / 2;
  const waves = 1 + 2 * harmonics;
  const form = plan.line + waves;
  const shared = form + plan.form;
  const sharedValues = new Float64Array(shared);
  sharedValues[plan.line] = model.frequency;
  const own: Float64Array[] = plan.ends.map(() => new Float64Array(plan.own));
  const prior = new Float64Array(shared + plan.own);
  prior.fill(1 / loose ** 2, form, shared);
  prior.fill(1 / loose ** 2, shared + plan.powers);
  /** Place of what the amplifier takes from fast fringes. */
  const lag = plan.form > 0 ? shared - 1 : -1;
  if (lag >= 0) prior[lag] = 1 / lagging ** 2;
  const row = new Float64Array(shared + plan.own);
  const perVariance = 1 / slopes.noise ** 2;
  let about: About = "displacement";
  /** Passes about the same. */
  let passes = 0;
  /** What was fitted about the displacement, and the noise that it left. */
  let seen: Seen = { shared: sharedValues, own: [], excess: NaN, count: 0 };
  let converged = false;
  let groups = new ResidualGroups(n, slopes.noise);
  let system = new SegmentedSystem(shared, plan.own, prior);
  let solution = null as ReturnType<SegmentedSystem["solve"]> | null;
  for (let pass = 0; pass < mostPasses; pass++) {
    system = new SegmentedSystem(shared, plan.own, prior);
    groups = new ResidualGroups(n, slopes.noise);
    const frequency = sharedValues[plan.line]!;
    const cycles = frequency / samplingRate;
    const turnReal = Math.cos(2 * Math.PI * cycles);
    const turnImaginary = Math.sin(2 * Math.PI * cycles);
    const ofSamples = about === "samples" ? exact : null;
    // Fastest motion, in rad per sample, in the same unit as what lags.
    const fastest = 2 * Math.PI * cycles *
      Math.hypot(sharedValues[plan.line + 1]!, sharedValues[plan.line + 2]!);
    ofSamples?.begin(
      sharedValues[form]!,
      sharedValues[form + 1]!,
      Math.sqrt(2 * Math.max(0, sharedValues[lag]!)) / fastest,
      fastest,
    );
    let segment = 0;
    let start = 0;
    for (let first = 0; first < n;) {
      const end = plan.ends[segment]!;
      const last = Math.min(first + chunk, end, plan.nextPiece(first));
      checkpoint(
        (pass + first / n) / mostPasses,
        "fit the vibration",
      );
      if (ofSamples === null) slopes.read(first, last);
      const middle = (start + end - 1) / 2;
      const half = Math.max(1, (end - start) / 2);
      const values = own[segment]!;
      const levels = plan.own > plan.powers
        ? { of: values, at: plan.powers, column: shared + plan.powers }
        : { of: sharedValues, at: form + 2, column: form + 2 };
      const angle = 2 * Math.PI * (cycles * (first - centre) % 1);
      let c1 = Math.cos(angle), s1 = Math.sin(angle);
      for (let k = 0; k < last - first; k++) {
        const c = c1, s = s1;
        c1 = c * turnReal - s * turnImaginary;
        s1 = c * turnImaginary + s * turnReal;
        let w = slopes.weight[k]!;
        if (ofSamples === null && !(w > 0)) continue;
        const i = first + k;
        const time = (i - centre) / samplingRate;
        // Motion of the model in rad, and what it changes by.
        let motion = 0;
        let byFrequency = 0;
        let bent = 0;
        let ch = 1, sh = 0;
        for (let h = 1; h <= harmonics; h++) {
          const next = ch * c - sh * s;
          sh = ch * s + sh * c;
          ch = next;
          const j = plan.line + 2 * h - 1;
          row[j] = ch;
          row[j + 1] = sh;
          const a = sharedValues[j]!, b = sharedValues[j + 1]!;
          motion += a * ch + b * sh;
          byFrequency += h * (b * ch - a * sh);
          bent -= h * h * (a * ch + b * sh);
        }
        row[plan.line] = 2 * Math.PI * time * byFrequency;
        if (plan.line > 0) {
          row[0] = 1;
          row[1] = (i - centre) / (n / 2);
          motion += sharedValues[0]! + sharedValues[1]! * row[1]!;
        }
        const u = (i - middle) / half;
        for (let j = 0, power = 1; j < plan.powers; j++, power *= u) {
          row[shared + j] = power;
          motion += values[j]! * power;
        }
        let g: number, rest: number, sine: number, cosine: number;
        let lost = 0;
        if (ofSamples !== null) {
          ofSamples.read(i, motion);
          ({ weight: w, cosine, sine } = ofSamples);
          if (!(w > 0)) continue;
          const gain = 1 + levels.of[levels.at + 1]!;
          g = gain * ofSamples.slope;
          const speed = 2 * Math.PI * cycles * byFrequency / fastest;
          lost = gain * ofSamples.bend * speed * speed +
            g * bent * (2 * Math.PI * cycles / fastest) ** 2;
          rest = ofSamples.value - levels.of[levels.at]! - gain * cosine -
            lost * sharedValues[lag]!;
        } else {
          const away = motion - slopes.phase[k]!;
          g = slopes.slope[k]!;
          rest = slopes.residual[k]! - g * away;
          sine = slopes.sine[k]!;
          cosine = slopes.cosine[k]!;
          if (about === "model" && Math.abs(away) < linearReach) {
            // All that is multiplied with the residual is taken at the model: where
            // the displacement has it, it holds some of the sample's own noise.
            const bend = slopes.bend[k]!;
            rest -= bend * away * away / 2;
            sine += cosine * slopes.rate[k]! * away;
            cosine += g * away + bend * away * away / 2;
            g += bend * away;
          }
          if (plan.form > 0) {
            rest += g * sine * sharedValues[form]! +
              g * cosine * sharedValues[form + 1]! -
              levels.of[levels.at]! - cosine * levels.of[levels.at + 1]!;
          }
        }
        for (let j = 0; j < form; j++) row[j]! *= g;
        for (let j = shared; j < shared + plan.powers; j++) row[j]! *= g;
        if (plan.form > 0) {
          row[form] = -g * sine;
          row[form + 1] = -g * cosine;
          row[levels.column] = 1;
          row[levels.column + 1] = cosine;
          row[lag] = lost;
        }
        system.take(row, rest, w * perVariance);
        groups.take(i, g, w, rest, motion);
      }
      if (last === end) {
        system.endSegment(Array.from(values));
        segment++;
        start = end;
      } else if (last === plan.nextPiece(first)) system.endPiece();
      first = last;
    }
    passes++;
    const excess = groups.excess();
    const isWorse = passes > 1 && excess > complete && !(excess < seen.excess);
    if (
      about !== "displacement" &&
      (isWorse || groups.count() < fewest * seen.count)
    ) {
      // More moves the target than the model: stay at what was seen.
      sharedValues.set(seen.shared);
      seen.own.forEach((values, k) => own[k]!.set(values));
      about = "displacement";
      passes = 0;
      continue;
    }
    solution = system.solve(sharedValues);
    const largest = largestOf(solution, form, excess);
    const part = passes > 4 ? calmed : 1;
    solution.shared.forEach((change, j) => sharedValues[j]! += part * change);
    solution.own.forEach((changes, k) =>
      changes.forEach((change, j) => own[k]![j]! += part * change)
    );
    const isLast = !slopes.isSignal || seen.own.length > 0;
    // Beside jumps samples come and go from pass to pass.
    const enough = passes > 4 ? loosely : settled;
    if (isLast && passes > 1 && largest < enough) {
      converged = true;
      break;
    }
    // Samples at the model need a motion that is right to a part of a fringe.
    const isNear = exact?.isUsable !== true ||
      passes > 1 && (largest < near || passes > 3);
    if (!isLast && isNear) {
      seen = {
        shared: sharedValues.slice(),
        own: own.map((values) => values.slice()),
        excess: exact?.isUsable === true ? excess : NaN,
        count: groups.count(),
      };
      about = exact?.isUsable === true ? "samples" : "model";
      passes = 0;
    }
  }
  const excess = groups.excess();
  const widened = widenedByPieces(
    solution!.inverse,
    Math.max(1, excess),
    solution!.scores,
  );
  if (about === "samples") {
    widenByNeglected(widened, solution!.inverse, lag, sharedValues[lag]!);
  }
  return {
    ...fromFirstSample(
      sharedValues.subarray(plan.line, form),
      widened.slice(plan.line, form).map((line) => line.slice(plan.line, form)),
      centre / samplingRate,
      metresPerRadian,
    ),
    drift: driftOf(
      { plan, sharedValues, widened, own, n, samplingRate },
      metresPerRadian,
    ),
    excess,
    unexplained: groups.unexplained(),
    converged,
    isOfSamples: about === "samples",
    residualTimes: groups.times(samplingRate),
    residuals: groups.residuals(metresPerRadian),
  };
}

/** What is neglected of the amplifier over what of it was fitted (1). */
const neglected = 0.3;

/**
 * The amplifier is followed to the second order of its time constant, and what it
 * does at steep slopes beyond: each value may be off by a part of how far that order
 * has moved it.
 */
function widenByNeglected(
  covariance: number[][],
  inverse: readonly (readonly number[])[],
  lag: number,
  value: number,
): void {
  const moved = inverse.map((row) =>
    neglected * value * row[lag]! / inverse[lag]![lag]!
  );
  covariance.forEach((row, j) =>
    row.forEach((_, k) => row[k]! += moved[j]! * moved[k]!)
  );
}

/** Largest change of the motion's parameters over their standard uncertainty. */
function largestOf(
  { shared, inverse }: ReturnType<SegmentedSystem["solve"]>,
  count: number,
  excess: number,
): number {
  let largest = 0;
  for (let j = 0; j < count; j++) {
    const u = Math.sqrt(inverse[j]![j]!) * Math.max(1, excess);
    largest = Math.max(largest, Math.abs(shared[j]!) / Math.max(u, 1e-300));
  }
  return largest;
}

/**
 * What the signal is linear about: the displacement that was read; the same, bent
 * towards the model; or the model alone, sample by sample.
 */
type About = "displacement" | "model" | "samples";

interface Seen {
  readonly shared: Float64Array;
  readonly own: readonly Float64Array[];
  readonly excess: number;
  /** Groups of samples that counted. */
  readonly count: number;
}

interface Plan {
  /** Shared parameters of a straight drift: 2 or 0. */
  readonly line: number;
  /** Shared parameters of the fringes' form: p and q, the levels, and the lag. */
  readonly form: number;
  /** Parameters of each segment: a polynomial and levels. */
  readonly own: number;
  readonly powers: number;
  /** Samples after the last of each segment. */
  readonly ends: readonly number[];
  /** Sample after the last of the piece that holds a sample. */
  nextPiece(sample: number): number;
}

function planOf(
  { frequency, stretches }: HarmonicModel,
  { samplingRate, displacement }: Displacement,
  { isSignal, levelsDrift }: SampleSlopes,
): Plan {
  const n = displacement.length;
  const powers = stretches === null ? 0 : stretches.degree + 1;
  const wanted = Math.min(
    stretches === null
      ? Infinity
      : stretches.periods * samplingRate / frequency,
    levelsDrift
      ? Math.max(levelSamples, 4 * samplingRate / frequency)
      : Infinity,
  );
  const count = Math.max(1, Math.floor(n / wanted));
  const piece = n / pieces;
  return {
    line: powers === 0 ? 2 : 0,
    form: !isSignal ? 0 : levelsDrift ? 3 : 5,
    own: powers + (levelsDrift ? 2 : 0),
    powers,
    ends: Array.from(
      { length: count },
      (_, k) => Math.round((k + 1) * n / count),
    ),
    nextPiece: (sample) =>
      Math.min(n, Math.ceil((Math.floor((sample + 0.5) / piece) + 1) * piece)),
  };
}

/** Turns phases from those at the middle of the record to those at its start. */
function fromFirstSample(
  values: Float64Array,
  covariance: readonly (readonly number[])[],
  middle: number,
  metresPerRadian: number,
): { parameters: number[]; covariance: number[][] } {
  const count = values.length;
  const frequency = values[0]!;
  const parameters = [frequency];
  const jacobian = covariance.map((row) => row.map(() => 0));
  jacobian[0]![0] = 1;
  for (let j = 1; j < count; j += 2) {
    const perFrequency = Math.PI * (j + 1) * middle;
    const angle = perFrequency * frequency;
    const c = Math.cos(angle) * metresPerRadian;
    const s = Math.sin(angle) * metresPerRadian;
    const a = values[j]! * c - values[j + 1]! * s;
    const b = values[j]! * s + values[j + 1]! * c;
    parameters.push(a, b);
    jacobian[j]![0] = -b * perFrequency;
    jacobian[j]![j] = c;
    jacobian[j]![j + 1] = -s;
    jacobian[j + 1]![0] = a * perFrequency;
    jacobian[j + 1]![j] = s;
    jacobian[j + 1]![j + 1] = c;
  }
  const half = jacobian.map((row) =>
    covariance[0]!.map((_, k) =>
      row.reduce((sum, value, i) => sum + value * covariance[i]![k]!, 0)
    )
  );
  return {
    parameters,
    covariance: half.map((row) =>
      jacobian.map((other) =>
        row.reduce((sum, value, i) => sum + value * other[i]!, 0)
      )
    ),
  };
}

/** Mean speed along the record. */
function driftOf(
  { plan, sharedValues, widened, own, n, samplingRate }: {
    plan: Plan;
    sharedValues: Float64Array;
    widened: readonly (readonly number[])[];
    own: readonly Float64Array[];
    n: number;
    samplingRate: number;
  },
  metresPerRadian: number,
): { value: number; uncertainty: number } {
  const perSecond = metresPerRadian * samplingRate;
  if (plan.line > 0) {
    const factor = perSecond / (n / 2);
    return {
      value: sharedValues[1]! * factor,
      uncertainty: Math.sqrt(widened[1]![1]!) * factor,
    };
  }
  if (own.length < 3) {
    const factor = perSecond / (n / own.length / 2);
    return { value: own[0]![1]! * factor, uncertainty: NaN };
  }
  // A line through the middles of the stretches.
  const middle = (own.length - 1) / 2;
  let sk = 0, skk = 0, mean = 0;
  own.forEach((values, k) => {
    mean += values[0]! / own.length;
    sk += (k - middle) * values[0]!;
    skk += (k - middle) ** 2;
  });
  const slope = sk / skk;
  let squares = 0;
  own.forEach((values, k) =>
    squares += (values[0]! - mean - slope * (k - middle)) ** 2
  );
  const factor = perSecond / (n / own.length);
  return {
    value: slope * factor,
    uncertainty: Math.sqrt(squares / (own.length - 2) / skk) * factor,
  };
}
