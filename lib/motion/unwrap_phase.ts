import { isCoupled } from "./coupled_signal.ts";
import { detectFringes, type Detection } from "./detection.ts";
import { findExtremes } from "./extremes.ts";
import { createEffort, isExhausted } from "./effort.ts";
import { heightByExtremes } from "./extreme_heights.ts";
import { spreadOf } from "./fringe_height.ts";
import {
  fitOfNoise,
  isAsCloseAsPart,
  isLong,
  type Trial,
  trialsOf,
} from "./first_trials.ts";
import { fillGaps } from "./gaps.ts";
import {
  labelsOf,
  otherReadings,
  type Reading,
  withJumpsOf,
} from "./hypotheses.ts";
import type { PhaseFit } from "./phase_fit.ts";
import { tracePhase } from "./phase_residuals.ts";
import {
  chooseSpacing,
  fitAnew,
  fitReading,
  fitsNoise,
  isMisread,
  score,
  withSuitedKnots,
} from "./reading_fit.ts";
import { reversed, reversedFit } from "./reversed_reading.ts";
import {
  heightDoubt,
  localSquares,
  mayHideHeight,
  settled,
  withFreeHeight,
  withHeight,
  withJumpsMoved,
} from "./settled_reading.ts";
import {
  decodedReading,
  type FittedReading,
  followsSignal,
  isFirm,
} from "./sought_reading.ts";
import { isTold } from "./told_reading.ts";
import { otherTurns, type TurnReading } from "./turn_readings.ts";

export { fitsNoise } from "./reading_fit.ts";

/** φ0 of a record, and how it was read. */
export interface Unwrapped {
  readonly fit: PhaseFit;
  readonly reading: Reading;
  readonly detection: Detection;
  /** Other readings of the ends that leave no more than chance allows. */
  readonly otherTurns: readonly TurnReading[];
  /**
   * How far φ0 may be off where the height changes faster than was fitted, in
   * rad; `null` where no height was fitted.
   */
  readonly heightDoubt: Float64Array | null;
}

const mostRounds = 5;
/** Half fringes between knots that are loose. */
const loosest = 2;
/** Distance of knots over that of a part of the record that is like it, at least (1). */
const leastSpacing = 0.6;
/**
 * Twice the log-likelihood by which another reading of a turn must be better: at
 * an end of the record, and inside, where many are tried and slow noise counts.
 */
const adoptedExcess = { end: 2, inside: 20 } as const;
const triedTurns = 3;
/** Relative spread of the height from which on it is evened out (1). */
const leastChange = 0.01;

/** How a record is unwrapped. */
interface UnwrapOptions {
  /**
   * Whether places that do not fit are read anew, which takes time.
   *
   * @default {true}
   */
  readonly mends?: boolean;
  /**
   * The fringes where they are known; `null` finds them.
   *
   * @default {null}
   */
  readonly known?: Detection | null;
  /**
   * Whether a coupling capacitor was undone, so that the levels hold though the
   * signal has none of its own.
   *
   * @default {false}
   */
  readonly uncoupled?: boolean;
}

/**
 * Unwraps a record without knowing the feedback: reads it in several ways, fits
 * each, keeps the one that leaves least, mends the places that do not fit, and
 * chooses the knots by the Akaike criterion.
 *
 * @param signal The signal.
 * @param options What is known of it.
 * @returns φ0, feedback and levels, or `null` if there is no fringe.
 */
export function unwrapPhase(
  signal: Float64Array,
  { mends = true, known = null, uncoupled = false }: UnwrapOptions = {},
): Unwrapped | null {
  const filled = signal.includes(NaN) ? fillGaps(signal) : signal;
  const detection = known ?? detectFringes(filled);
  if (detection === null) return null;
  const plain = firstReading(signal, filled, detection, mends);
  if (plain === null) return null;
  if (!mends) {
    return turnedRound({ ...plain, detection, turns: [] }, signal, null);
  }
  const levelsHold = uncoupled || !isCoupled(detection.scale);
  const best = bestOfBoth(signal, filled, detection, plain, levelsHold);
  const fit = withFreeHeight(signal, best.fit);
  return turnedRound({ ...best, fit }, signal, heightDoubt(signal, fit));
}

/** A reading with its fit and the fringes it was found in. */
interface DetectedReading extends FittedReading {
  readonly detection: Detection;
  /** Other readings of its turns. */
  readonly turns: readonly TurnReading[];
}

/**
 * The best by hypotheses; where that leaves doubts, or the noise may hide that it
 * is wrong, the likeliest course through the whole record is fitted beside it, and
 * the one that leaves less is taken.
 *
 * @param levelsHold Whether the levels of a fringe are those of a decoded course.
 */
function bestOfBoth(
  signal: Float64Array,
  filled: Float64Array,
  detection: Detection,
  plain: FittedReading,
  levelsHold: boolean,
): DetectedReading {
  const tried = bestSettled(signal, filled, detection, plain);
  if (isTold(signal, tried.detection, tried.fit)) return tried;
  const own = { ...detection, effort: createEffort() };
  const decoded = decodedReading(signal, own);
  if (decoded === null || !levelsHold && !turns(decoded.fit)) return tried;
  const start = settled(signal, own, decoded);
  const other = withHeight(signal, own, start);
  const best = score(other.fit) < score(start.fit) ? other : start;
  return score(best.fit) < score(tried.fit)
    ? settleTurns(signal, own, best)
    : tried;
}

/** Whether a course comes back by a whole fringe or more. */
function turns({ coefficients }: PhaseFit): boolean {
  return findExtremes(coefficients, 2 * Math.PI).index.length > 1;
}

/**
 * The first reading with its places mended; where that leaves doubts, one of the
 * fringes evened out to one height.
 */
function bestSettled(
  signal: Float64Array,
  filled: Float64Array,
  detection: Detection,
  plain: FittedReading,
): DetectedReading {
  const start = settled(signal, detection, plain);
  let best = settleTurns(signal, detection, start);
  /** Whether the best so far leaves no doubts. */
  const isClear = () => !mayHideHeight(signal, best.detection, best.fit);
  const consider = (own: Detection, from: FittedReading) => {
    const other = withHeight(signal, own, from);
    if (!(score(other.fit) < score(best.fit))) return isExhausted(own);
    best = settleTurns(signal, own, other);
    return isClear() || isExhausted(own);
  };
  if (isClear() || consider(detection, best)) return best;
  // A fit that follows, its knots far apart, reads right though its height changes.
  if (isFirm(signal, best.detection, best.fit)) return best;
  const even = evenFringes(filled, detection);
  const first = even === null
    ? null
    : firstReading(signal, even.signal, even.detection, true);
  if (first !== null) consider(even!.detection, first);
  return best;
}

/** The signal with the fringes evened out to one height, as its extremes show it. */
function evenFringes(filled: Float64Array, detection: Detection) {
  const height = heightByExtremes(filled.length, detection);
  if (height === null) return null;
  const { middle, noise, amplitude } = detection.scale;
  // Extremes of one height scatter by some of the noise.
  if (spreadOf(height.values) < leastChange + noise / amplitude) return null;
  const signal = filled.map((value, i) =>
    middle + (value - middle) / height.values[i]!
  );
  const even = detectFringes(signal);
  if (even === null) return null;
  const scale = { ...even.scale, noise };
  return {
    signal,
    detection: { ...even, scale, height, effort: detection.effort },
  };
}

/** The first reading that leaves least, with the knots that suit it. */
function firstReading(
  signal: Float64Array,
  filled: Float64Array,
  detection: Detection,
  thorough: boolean,
): FittedReading | null {
  // At both ends the target may turn where too little is seen to tell; the
  // first fits leave the ends out.
  const inner = withoutEnds(signal, detection);
  const evened = detection.height === null ? signal : filled;
  const even = withoutEnds(evened, detection);
  const plain = { ...detection, height: null };
  let best: FittedReading & Pick<Trial, "part"> | null = null;
  for (const trial of trialsOf(even, evened, filled, plain)) {
    if (detection.height === null) {
      const found = readLikePart(signal, detection, trial);
      if (found !== null) return found;
    }
    const { reading, spacing, feedback, parameters } = trial;
    const fit = fitReading(even, plain, reading, spacing, parameters, 8, {
      startFeedback: feedback,
    });
    if (best === null || score(fit) < score(best.fit)) {
      best = { reading, fit, part: trial.part };
      if (fitOfNoise(even, plain, fit) !== null) break;
    }
    if (isExhausted(detection)) break;
  }
  if (best === null) return null;
  const { reading } = best;
  // With the height its feedback changes along the record.
  const first = detection.height === null ? best.fit : fitReading(
    inner,
    detection,
    reading,
    best.fit.spacing,
    { ...best.fit.parameters, height: detection.height },
    10,
  );
  const { part } = best;
  const fit = thorough && isLong(inner) && detection.height === null
    ? chooseSpacing(
      inner,
      detection,
      reading,
      part === null ? first : withSpacingOf(part.fit, inner, detection, best),
      false,
    )
    : chooseSpacing(inner, detection, reading, first, thorough);
  if (inner === signal || !thorough) return { reading, fit };
  const ended = settleEnds(signal, detection, reading, fit);
  const { parameters, spacing } = fit;
  const whole = withJumpsMoved(
    signal,
    detection,
    fitReading(signal, detection, ended, spacing, parameters, 10),
  );
  return {
    reading: ended,
    fit: fitsNoise(whole, detection)
      ? whole
      : fitAnew(signal, detection, ended, parameters),
  };
}

/**
 * A long record read like a part of it of which only noise is left, or `null` if
 * more is left of the whole.
 */
function readLikePart(
  signal: Float64Array,
  detection: Detection,
  trial: Trial,
): FittedReading | null {
  const { reading, part: suited } = trial;
  if (suited === null) return null;
  const { fit: part, most } = suited;
  // Loose knots follow a part whatever it reads.
  const firm = loosest * detection.fastest;
  if (trial.spacing < firm || part.spacing < firm) return null;
  const ended = settleEnds(signal, detection, reading, part);
  const { spacing, parameters } = part;
  const start = fitReading(signal, detection, ended, spacing, parameters, 2);
  let moved = withJumpsMoved(signal, detection, start);
  const like = withJumpsOf(ended, moved);
  if (!moved.settled) {
    const { coefficients } = moved;
    moved = fitReading(signal, detection, like, spacing, moved.parameters, 8, {
      coefficients,
    });
  }
  if (!isAsCloseAsPart(moved, trial)) return null;
  const { fit } = withSuitedKnots(signal, detection, like, moved, most);
  // Much closer knots follow something else than the motion of the part.
  const isLike = fit.settled && fit.spacing > leastSpacing * moved.spacing;
  return isLike ? { reading: like, fit } : null;
}

/** A fit to a record with the knots of a part of it, if that is better. */
function withSpacingOf(
  { spacing }: PhaseFit,
  signal: Float64Array,
  detection: Detection,
  { reading, fit }: FittedReading,
): PhaseFit {
  const { parameters } = fit;
  if (spacing === fit.spacing || isMisread(fit, detection)) return fit;
  const other = fitReading(signal, detection, reading, spacing, parameters, 8);
  return score(other) < score(fit) ? other : fit;
}

/** Reads turns the other way where that leaves less. */
function settleTurns(
  signal: Float64Array,
  detection: Detection,
  { reading, fit }: FittedReading,
): DetectedReading {
  let turns: TurnReading[] = [];
  for (let round = 0; round < mostRounds; round++) {
    // Where a fit does not follow, little differences say nothing.
    if (!followsSignal(signal, detection, fit)) break;
    turns = otherTurns(signal, fit);
    const likelier = turns.filter(({ first, last, excess }) => {
      const atEnd = first === 0 || last === signal.length - 1;
      return excess < -adoptedExcess[atEnd ? "end" : "inside"];
    });
    const choices = [
      likelier,
      ...likelier.slice(0, triedTurns).map((t) => [t]),
    ];
    let better: FittedReading | null = null;
    for (const choice of likelier.length > 0 ? choices : []) {
      if (isExhausted(detection)) break;
      const next = withTurns(signal, detection, fit, choice);
      if (score(next.fit) < score(better?.fit ?? fit)) better = next;
      // All at once is best where all are wrong.
      if (better !== null && choice === likelier) break;
    }
    if (better === null) break;
    ({ reading, fit } = better);
  }
  return { reading, fit, detection, turns };
}

/** The fit with some of its turns read the other way. */
function withTurns(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
  turns: readonly TurnReading[],
): FittedReading {
  const phase = tracePhase(signal, fit).phase.slice();
  for (const turn of turns) phase.set(turn.phase, turn.first);
  const { labels, spacing, parameters } = fit;
  const reading: Reading = { kind: "searched", phase, labels };
  const start = fitReading(
    signal,
    detection,
    reading,
    spacing,
    parameters,
    10,
  );
  return { reading, fit: chooseSpacing(signal, detection, reading, start) };
}

/** The reading with the sense of motion that an α above 0 gives it. */
function turnedRound(
  { reading, fit, detection, turns }: DetectedReading,
  { length }: Float64Array,
  heightDoubt: Float64Array | null,
): Unwrapped {
  if (!(fit.parameters.q < 0)) {
    return { fit, reading, detection, otherTurns: turns, heightDoubt };
  }
  const other = reversed(reading, length);
  return {
    fit: reversedFit(fit, labelsOf(other, detection, length)),
    reading: other,
    detection,
    otherTurns: turns.map((turn) => ({
      ...turn,
      phase: turn.phase.map((value) => -value),
    })),
    heightDoubt,
  };
}

const endExtremes = 3;

/** The signal with what lies outside of the third extreme from each end left out. */
function withoutEnds(
  signal: Float64Array,
  detection: Detection,
): Float64Array {
  const { index } = detection.extremes;
  if (index.length < 6 * endExtremes) return signal;
  const inner = signal.slice();
  inner.fill(NaN, 0, index[endExtremes - 1]!);
  inner.fill(NaN, index[index.length - endExtremes]! + 1);
  return inner;
}

/** The reading of both ends that leaves least, feedback held. */
function settleEnds(
  signal: Float64Array,
  detection: Detection,
  reading: Reading,
  fit: PhaseFit,
): Reading {
  const { index } = detection.extremes;
  const count = index.length;
  const reach = 3 * endExtremes;
  // A loose spline follows any reading; a stiff one tells them apart.
  const spacing = Math.max(fit.spacing, Math.round(4 * detection.fastest));
  let current = reading;
  for (const atStart of [true, false]) {
    const place = atStart ? index[1]! : index[count - 2]!;
    const inside = atStart ? index[reach]! : index[count - 1 - reach]!;
    const from = atStart ? 0 : Math.max(0, inside - 2 * spacing);
    const to = atStart
      ? Math.min(signal.length, inside + 2 * spacing)
      : signal.length;
    let least = 0.9 *
      localSquares(signal, detection, current, fit, from, to, { spacing });
    let best = current;
    for (
      const other of otherReadings(current, signal, detection, place, place)
    ) {
      const squares = localSquares(
        signal,
        detection,
        other,
        fit,
        from,
        to,
        { spacing, mostSquares: least },
      );
      if (squares < least) {
        least = squares;
        best = other;
      }
    }
    current = best;
  }
  return current;
}
