import type { Capture } from "../capture/mod.ts";
import { normalProbability } from "../fit/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { quantity } from "../result/mod.ts";
import { describesAsWell, gainOf, leavesNoise } from "./count_gain.ts";
import { countRamp, type RampCount } from "./count_ramp.ts";
import { guessHopCourse } from "./hop_course.ts";
import { createHopScores, showsHop } from "./hop_scan.ts";
import { fewStrokes, followHop, settleHops, standsOut } from "./hop_search.ts";
import { lessWholeSteps } from "./hop_step.ts";
import { ifMeasurable } from "./if_measurable.ts";
import { createLagCourse, lagScores } from "./lag_score.ts";
import { followLag, type LagCount } from "./lag_search.ts";
import type { RampSettings } from "./ramps.ts";
import { fittedInPairs } from "./residual_scan.ts";
import { feedbackOf, stepsOf } from "./stroke_selection.ts";

/** A count with what disturbs all strokes alike. */
export interface DisturbedCount extends LagCount {
  /**
   * Standard uncertainty of the steps (1) from the phase steps of the hops, and of
   * one too small to be told.
   */
  readonly hopUncertainty: number;
}

/** Longest lag that is not found, over the deviation of its time constant (1). */
const longestHidden = 4;
/** Strongest step of the phase that noise makes somewhere, over its deviation (1). */
const strongestByNoise = 2.5;
/** Most disturbances that are told apart in one capture. */
const mostRounds = 4;

/**
 * Counts the strokes with what disturbs them all alike: a mode hop, and, where no
 * time constant is given, a wavelength that lags behind the current. One after
 * another is taken into account, each time the one that leaves least.
 *
 * @param capture The capture.
 * @param options As for {@linkcode countRamp}, without a time constant.
 * @param given The time constant in s, or `null` to look for one.
 */
export function countDisturbed(
  capture: Capture,
  options: RampSettings,
  given: number | null,
): DisturbedCount {
  const course = createLagCourse(capture, options);
  let counted = countRamp(capture, {
    ...options,
    thermalTimeConstant: given ?? 0,
  });
  let lag: LagCount["lag"] = {
    timeConstant: quantity(given ?? 0, 0, "s"),
    stepsUncertainty: 0,
    searched: given === null,
    suspected: 0,
  };
  for (let round = 0; round < mostRounds; round++) {
    const open = given === null && lag.timeConstant.value === 0;
    const lagging = open
      ? ifMeasurable(() => followLag(capture, options, counted, course))
      : null;
    const suspected = typeof lagging === "number"
      ? lagging
      : lagging?.lag.suspected ?? 0;
    if (open) lag = { ...lag, suspected };
    const withLag = typeof lagging === "number" || suspected > 0
      ? null
      : lagging;
    if (
      withLag !== null && !showsHop(withLag.counted, []) &&
      leavesNoise(withLag.counted)
    ) {
      ({ counted, lag } = withLag);
      break;
    }
    const lags = open ? lagColumns(counted, course) : [];
    const tau = lag.timeConstant.value;
    const withHop = ifMeasurable(() =>
      followHop(
        capture,
        { ...options, thermalTimeConstant: tau },
        counted,
        lags,
        course,
      )
    );
    const explained = [counted, withLag?.counted, withHop?.counted]
      .some((count) => count !== undefined && leavesNoise(count));
    const both = open && (!explained || suspected > 0)
      ? ifMeasurable(() => followBoth(capture, options, counted, course))
      : null;
    // The own bend of each stroke makes up for a lag: it need not gain by it.
    if (
      both !== null &&
      [withLag, withHop].every((found) =>
        found === null || describesAsWell(both.counted, found.counted)
      )
    ) {
      ({ counted, lag } = both);
      continue;
    }
    if (withHop === null && withLag === null) break;
    // The one that describes the strokes better first; the other may follow.
    if (
      withLag !== null &&
      !(gainOf(counted, withLag.counted, 1) < (withHop?.gain ?? -Infinity))
    ) {
      ({ counted, lag } = withLag);
      continue;
    }
    counted = withHop!.counted;
  }
  const tau = lag.searched ? lag.timeConstant.value : 0;
  // A lag and a hop that are both fitted make up for some of one another.
  const hopUncertainty = Math.hypot(
    hopsUncertainty(
      counted,
      tau > 0 ? [lagColumn(counted, course, tau, 1.1 * tau)] : [],
    ),
    hiddenHop(counted),
  );
  return lag.searched && lag.timeConstant.value === 0
    ? {
      counted,
      hopUncertainty,
      lag: {
        ...lag,
        stepsUncertainty: hiddenLag(counted, course, lag.suspected),
      },
    }
    : { counted, hopUncertainty, lag };
}

/** Standard uncertainty of the steps (1) from the phase steps of the hops. */
function hopsUncertainty(
  counted: RampCount,
  lags: readonly Float64Array[],
): number {
  if (counted.hops.length === 0) return 0;
  const scores = createHopScores(counted, lags);
  return Math.hypot(...counted.hops.map((hop) => {
    const score = scores.at(hop);
    return score === null
      ? Infinity
      : score.sensitivity * Math.hypot(score.deviation, score.shift);
  }));
}

/**
 * Standard uncertainty of the steps (1) from a step of the phase that the strokes
 * show and that is too small to be told from what the model may be wrong by: the
 * part of it that noise does not make.
 */
function hiddenHop(counted: RampCount): number {
  const scores = createHopScores(counted, []);
  const hop = scores.strongest();
  const score = hop && scores.at(hop);
  if (!score) return 0;
  const { sensitivity, shift, deviation } = score;
  const byNoise = strongestByNoise * deviation;
  return Math.abs(sensitivity) *
    Math.sqrt(Math.max(0, shift ** 2 - byNoise ** 2));
}

/** Change of the current by a short, a longer and a long lag, per sample. */
function lagColumns(
  counted: RampCount,
  course: (timeConstant: number) => Float64Array,
): Float64Array[] {
  return [0.01, 0.04, 0.15].map((part) =>
    lagColumn(counted, course, 0, part * counted.ramps.strokeDuration)
  );
}

/** Change of the current from one time constant to another, per sample. */
function lagColumn(
  { span }: RampCount,
  course: (timeConstant: number) => Float64Array,
  from: number,
  to: number,
): Float64Array {
  const [before, after] = [course(from), course(to)];
  return after.map((value, i) => {
    if ((i & 0x1ffff) === 0x1ffff) checkpoint(NaN, "thermal lag");
    return 2 * (value - before[i]!) / span;
  });
}

/**
 * Standard uncertainty of the steps (1) from a lag too short to be found: what
 * the fits leave asks for some time constant, known to its deviation. Beforehand,
 * none and one below what would have been found are taken as equally likely. One
 * that is suspected may be there in full.
 */
function hiddenLag(
  counted: RampCount,
  course: (timeConstant: number) => Float64Array,
  suspected: number,
): number {
  const step = 0.01 * counted.ramps.strokeDuration;
  const { change, deviation, sensitivity } = lagScores(
    counted,
    course,
    0,
    [step],
    fittedInPairs(counted),
  )[0]!;
  const z = change / deviation;
  const density = Math.exp(-z * z / 2) / Math.sqrt(2 * Math.PI);
  // Mean square of the part of a normal distribution that is above 0.
  const square = (1 + z * z) * normalProbability(z) + z * density;
  const hidden = deviation * Math.sqrt(
    square / (normalProbability(z) + longestHidden * density),
  );
  return Number.isFinite(hidden)
    ? Math.abs(sensitivity) * Math.hypot(hidden, suspected)
    : 0;
}

/**
 * A lag and a hop where neither can be seen without the other, or the lag alone
 * where the hop then is none; `null` where there is no lag.
 */
function followBoth(
  capture: Capture,
  options: RampSettings,
  plain: RampCount,
  course: (timeConstant: number) => Float64Array,
): LagCount | null {
  if (plain.hops.length > 0) return null;
  const guess = guessHopCourse(plain, course, null);
  if (guess === null || guess.timeConstant === 0) return null;
  const lagged = { ...options, thermalTimeConstant: guess.timeConstant };
  const shift = lessWholeSteps(
    guess.hop.shift,
    stepsOf(plain),
    feedbackOf(plain) > 0.9,
  );
  const hops = [{ ...guess.hop, shift }];
  const start = countRamp(capture, lagged, fewStrokes, null, hops);
  const settled = settleHops(capture, lagged, start, hops, []);
  const found = settledLag(
    capture,
    options,
    settled.counted,
    course,
    guess.timeConstant,
  );
  if (found === null || standsOut(found.counted, [])) return found;
  // The lag alone, from where it is now known to be: without the hop that brought
  // it up it must gain.
  const tau = found.lag.timeConstant.value;
  const alone = settledLag(capture, options, plain, course, tau);
  return alone !== null && gainOf(plain, alone.counted, 1) > 0 ? alone : null;
}

/** A lag from a first guess in s, if it settles. */
function settledLag(
  capture: Capture,
  options: RampSettings,
  counted: RampCount,
  course: (timeConstant: number) => Float64Array,
  guess: number,
): LagCount | null {
  const found = followLag(capture, options, counted, course, guess);
  return typeof found === "object" && found?.lag.suspected === 0 ? found : null;
}
