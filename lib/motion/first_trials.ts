import { cutLabels } from "./cut_labels.ts";
import { type Detection, directionsOf } from "./detection.ts";
import { expectLittle } from "./effort.ts";
import { labelsOf, type Reading, withJumpsOf } from "./hypotheses.ts";
import { jumpLabels, labelBetween } from "./jump_labels.ts";
import { followsFringes } from "./knot_gain.ts";
import type { FringeParameters, PhaseFit } from "./phase_fit.ts";
import type { PhaseLabels } from "./phase_labels.ts";
import {
  chooseSpacing,
  firstSpacings,
  fitReading,
  reachesNoise,
  score,
  type SuitedFit,
  withSuitedKnots,
} from "./reading_fit.ts";
import { withJumpsMoved } from "./settled_reading.ts";
import type { SignalScale } from "./signal_scale.ts";
import {
  type FittedReading,
  searchedReading,
  seekReading,
} from "./sought_reading.ts";

const noTurns = { turnsAtFirst: false, turnsAtLast: false };
/** Size of a jump that counts, over the typical one (1). */
const usualShare = 0.5;
/**
 * Forms of the fringe that are tried: smooth with a logarithmic asymmetry of the
 * legs (`null` takes it from them), or with jumps of at least a share of the typical
 * one.
 */
const likeliestForms = [{ asymmetry: null }, { share: usualShare }] as const;
const otherForms = [
  { asymmetry: 0 },
  { asymmetry: 0.4 },
  { asymmetry: 0.9 },
  { asymmetry: 1.5 },
  { share: 0.3 },
  { share: 0.7 },
] as const;
const mostReadings = 8;
/** Samples on which the first fits to a long record are compared. */
const partLength = 6000;
/** Jumps that are a sample off leave less than so many times the noise. */
const mostEdges = 4;
/** So near is C to 1 at the border (1). */
const border = 0.01;
/** Order in which stiff, medium and loose splines are tried on it. */
const partOrder = [1, 0, 2] as const;
/** First fits to a long record. */
const mostTrials = 4;

/** The readings worth a fit, each once. */
function* readRecord(
  signal: Float64Array,
  detection: Detection,
): Generator<Reading> {
  const seen = new Set<string>();
  const isNew = (key: string) => {
    const before = seen.size;
    return before < mostReadings && seen.add(key).size > before;
  };
  const { extremes, fastest, scale } = detection;
  const width = Math.max(1, Math.floor(fastest / 8));
  const jumping = (share: number) => jumpLabels(signal, extremes, width, share);
  const usual = jumping(usualShare);
  const first = jumpsShow(signal, scale, usual)
    ? likeliestForms.toReversed()
    : likeliestForms;
  for (const form of [...first, ...otherForms]) {
    if ("share" in form) {
      const { share } = form;
      const labels = share === usualShare ? usual : jumping(share);
      const jumps = labels?.jumps.map(({ first, sign }) => first * sign);
      if (labels !== null && isNew(`j${jumps}`)) {
        yield { kind: "jumps", labels };
      }
    } else {
      const { direction } = directionsOf(detection, form.asymmetry);
      if (isNew(`s${direction.join()}`)) {
        yield { kind: "smooth", direction, ends: noTurns };
      }
    }
  }
  // So little motion that φF stays on one branch.
  if (extremes.index.length < 40 && isNew("j")) {
    yield { kind: "jumps", labels: labelBetween([], signal.length) };
  }
}

/** Whether most edges are higher than smooth fringes rise in so little time. */
function jumpsShow(
  signal: Float64Array,
  { amplitude }: SignalScale,
  labels: PhaseLabels | null,
): boolean {
  const high = labels?.jumps.filter(({ first, last }) =>
    Math.abs(signal[last]! - signal[first]!) > amplitude
  );
  return high !== undefined && high.length > labels!.jumps.length / 2;
}

/** Each reading with each C it may start from and each distance of knots. */
function* trialsWith(
  readings: Iterable<Reading>,
  spacings: readonly number[],
): Generator<Trial> {
  for (const reading of readings) {
    for (const feedback of reading.kind === "jumps" ? [null, 2, 5] : [null]) {
      for (const spacing of spacings) {
        yield { reading, spacing, feedback, parameters: null, part: null };
      }
    }
  }
}

/** The same, all with medium knots first: they follow most records, and not a wrong reading. */
function* mediumFirst(
  readings: Iterable<Reading>,
  spacings: readonly number[],
): Generator<Trial> {
  const known: Reading[] = [];
  const noted = function* () {
    for (const reading of readings) {
      known.push(reading);
      yield reading;
    }
  };
  const order = spacings.toSorted((a, b) =>
    partOrder[spacings.indexOf(a)]! - partOrder[spacings.indexOf(b)]!
  );
  for (const [k, spacing] of order.entries()) {
    yield* trialsWith(k === 0 ? noted() : known, [spacing]);
  }
}

/** A fit with its jumps where it says they are, if it leaves only noise. */
export function fitOfNoise(
  signal: Float64Array,
  detection: Detection,
  fit: PhaseFit,
): PhaseFit | null {
  if (!(fit.noise < mostEdges * leastNoise(detection))) return null;
  const moved = withJumpsMoved(signal, detection, fit);
  return leavesNoise(moved, detection) ? moved : null;
}

/** Noise of the record, with what the table of the fringe leaves; in its unit. */
function leastNoise({ scale: { noise, amplitude } }: Detection): number {
  return noise + 0.002 * amplitude;
}

/** Whether a first fit leaves only noise. */
function leavesNoise(fit: PhaseFit, detection: Detection): boolean {
  // At the border of C = 1 one that has not settled may belong across it.
  return reachesNoise(fit, detection) &&
    (fit.settled || Math.abs(fit.model.feedback - 1) > border);
}

/** Whether a fit to a long record is as close as it is where only noise is left. */
export function isAsCloseAsPart(fit: PhaseFit, { part }: Trial): boolean {
  return part !== null && fit.noise < 1.05 * part.fit.noise;
}

/** What a first fit may start from. */
export interface Trial {
  readonly reading: Reading;
  /** Samples between knots. */
  readonly spacing: number;
  /** C that is held at first; `null` takes it from the labels (1). */
  readonly feedback: number | null;
  readonly parameters: FringeParameters | null;
  /** Fit to a part of which only noise is left, with its own knots; else `null`. */
  readonly part: SuitedFit | null;
}

/**
 * Readings, knots and C worth a fit. Of a long record a part is read first: the
 * reading that leaves only noise there, then what a search of the whole record
 * finds for the fringe of that part, then the likeliest others.
 *
 * @param signal The signal with its ends left out.
 * @param ended The signal with its ends.
 * @param filled The same with its gaps filled.
 * @param detection Its fringes.
 */
export function* trialsOf(
  signal: Float64Array,
  ended: Float64Array,
  filled: Float64Array,
  detection: Detection,
): Generator<Trial> {
  const spacings = firstSpacings(signal, detection);
  const readings = readRecord(filled, detection);
  if (!isLong(signal)) return yield* trialsWith(readings, spacings);
  const part = middleOf(signal, detection);
  const ranked: FittedTrial[] = [];
  let fringe: FittedTrial | null = null;
  for (const trial of mediumFirst(readings, spacings)) {
    const { reading, spacing, feedback } = trial;
    const own = part.reading(reading);
    const fit = fitReading(part.signal, detection, own, spacing, null, 8, {
      startFeedback: feedback,
      mostSquares: partLength *
        (mostEdges * leastNoise(detection) / detection.scale.amplitude) ** 2,
    });
    fringe = clearTrial(part.signal, detection, { reading: own, fit });
    if (fringe !== null) {
      yield { ...fringe, reading };
      break;
    }
    ranked.push(continued(reading, fit, null));
  }
  ranked.sort((a, b) => score(a.fit) - score(b.fit));
  fringe ??= soughtOnPart(part, detection, ranked[0]!);
  if (fringe === null) expectLittle(detection);
  else {
    const { parameters } = fringe.fit;
    const reading = searchedReading(ended, detection, parameters);
    if (reading !== null) yield { ...fringe, reading };
  }
  yield* ranked.slice(0, mostTrials);
}

/** A trial with its fit to a part of the record. */
interface FittedTrial extends Trial {
  readonly fit: PhaseFit;
}

/** What to fit to the whole record after a fit to a part of it. */
function continued(
  reading: Reading,
  fit: PhaseFit,
  part: SuitedFit | null,
): FittedTrial {
  const { parameters, spacing, model: { feedback } } = fit;
  return { reading, spacing, feedback, parameters, part, fit };
}

/** The trial that follows from a fit to a part, with the knots that suit that part. */
function clearTrial(
  signal: Float64Array,
  detection: Detection,
  start: FittedReading,
): FittedTrial | null {
  const moved = fitOfNoise(signal, detection, start.fit);
  if (moved === null) return null;
  const own = withJumpsOf(start.reading, moved);
  const suited = withSuitedKnots(signal, detection, own, moved);
  if (!followsFringes(signal, suited.fit, detection.fastest)) {
    return continued(own, moved, suited);
  }
  const fit = chooseSpacing(signal, detection, own, moved);
  return continued(own, moved, { fit, most: Infinity });
}

/** The trial of a part that a search finds, if it leaves only noise. */
function soughtOnPart(
  part: ReturnType<typeof middleOf>,
  detection: Detection,
  { reading, fit }: FittedTrial,
): FittedTrial | null {
  const start = { reading: part.reading(reading), fit };
  const found = seekReading(part.signal, detection, start);
  return clearTrial(part.signal, detection, found);
}

/** Whether a record is so long that a part of it is looked at first. */
export function isLong({ length }: Float64Array): boolean {
  return length >= 2 * partLength;
}

/** The part of a long record around the middle of its fringes. */
function middleOf(signal: Float64Array, detection: Detection) {
  const { index } = detection.extremes;
  const middle = index[index.length >> 1]!;
  const from = Math.min(
    Math.max(0, middle - (partLength >> 1)),
    signal.length - partLength,
  );
  const to = from + partLength;
  return {
    signal: signal.subarray(from, to),
    /** A reading of the record, cut to the part. */
    reading: (whole: Reading): Reading => ({
      kind: "jumps",
      labels: cutLabels(labelsOf(whole, detection, signal.length), from, to),
    }),
  };
}
