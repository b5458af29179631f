import { checkpoint } from "../progress/mod.ts";
import { detectFringes, type Detection } from "./detection.ts";
import {
  type FeedbackQuantities,
  feedbackQuantities,
} from "./feedback_quantities.ts";
import { heightSpread } from "./feedback_doubt.ts";
import { doubtfulUncertainty } from "./doubtful_places.ts";
import { fringeEvents } from "./fringe_events.ts";
import { fillGaps, stretchesOf } from "./gaps.ts";
import { tellFitTime } from "./fit_time.ts";
import { spreadOf } from "./fringe_height.ts";
import type { PhaseFit } from "./phase_fit.ts";
import {
  misfitsOfFit,
  type PhaseTrace,
  tracePhase,
} from "./phase_residuals.ts";
import { formUncertainty, phaseUncertainty } from "./phase_uncertainty.ts";
import type { SignalScale } from "./signal_scale.ts";
import { marginOf } from "./told_reading.ts";
import type { TurnReading } from "./turn_readings.ts";
import { type Unwrapped, unwrapPhase } from "./unwrap_phase.ts";

/** φ0 of a whole record, with its fringes and its doubts. */
export interface MotionTrack {
  /** φ0 from the first sample that counts, in rad; `NaN` in gaps. */
  readonly phase: Float64Array;
  /** Standard uncertainty of `phase`, in rad. */
  readonly uncertainty: Float32Array;
  /** Place of each fringe, in samples. */
  readonly fringePlaces: Float64Array;
  /** 1 receding, -1 approaching. */
  readonly fringeSigns: Int8Array;
  /** Sample indices of the turning points. */
  readonly turningPoints: Int32Array;
  /** Total way, in fringes. */
  readonly path: number;
  /** Stretches without a gap. */
  readonly stretches: readonly TrackStretch[];
  readonly feedback: FeedbackQuantities;
  /** Form of the fringes, and how `phase` lies to it. */
  readonly fringeForm: FringeForm;
  /** Noise over the amplitude (1). */
  readonly relativeNoise: number;
  /** Middle level, in the unit of the signal. */
  readonly middle: number;
  /** Signal per cos φF, in the unit of the signal. */
  readonly amplitude: number;
  /** Standard deviation of the height that was fitted, over its mean (1). */
  readonly heightSpread: number;
  /** Relative spread of C that shows in what the fit leaves (1). */
  readonly hiddenSpread: number;
  /** Samples between knots of the spline. */
  readonly spacing: number;
  /** Samples where the fit leaves more than the noise. */
  readonly doubtfulSamples: number;
  /** Samples at turns that read as well the other way round. */
  readonly ambiguousSamples: number;
  /**
   * By how much φ0 is likelier than another course that is half a fringe or more
   * off somewhere: logarithm of the ratio of the likelihoods (1), the least of all
   * stretches; below 0 another is likelier, `Infinity` is beyond doubt. `null` for
   * long records.
   */
  readonly margin: number | null;
  /** Samples of the shortest half fringe. */
  readonly fastest: number;
  /** Sample by sample, for fits of models; `null` for long records. */
  readonly trace: SampleTrace | null;
}

/** Form of the fringes, by which a signal follows from a displacement. */
export interface FringeForm {
  /** C cos ψ (1). */
  readonly p: number;
  /** C sin ψ (1). */
  readonly q: number;
  /** φ0 of the fit where the displacement is 0, in rad. */
  readonly origin: number;
  /** -1 where the displacement counts φ0 of the fit backwards, else 1. */
  readonly sense: 1 | -1;
  /**
   * Root mean square, along the record, of what the form leaves open of φ0, in
   * rad: it comes back with every fringe, and does not average out.
   */
  readonly uncertainty: number;
}

/** What each sample says about the phase. */
export interface SampleTrace {
  /** Signal minus fit over the amplitude (1); `NaN` where left out. */
  readonly residual: Float32Array;
  /** d cos φF / dφ0 (1/rad). */
  readonly slope: Float32Array;
  /** Weight (1). */
  readonly weight: Float32Array;
  /** φF modulo 2π, in rad. */
  readonly feedbackPhase: Float32Array;
  /** Height of the fringe over the mean height (1). */
  readonly height: Float32Array;
}

/** A stretch between gaps. */
export interface TrackStretch {
  /** First sample. */
  readonly first: number;
  /** Last sample. */
  readonly last: number;
  /** Whether φ0 joins on to the stretch before. */
  readonly joined: boolean;
}

/** A sample of the record follows the fit where less than this is left. */
const shortestStretch = 16;

/**
 * Tracks φ0 through a record of moderate length, stretch by stretch.
 *
 * @param signal The conditioned signal; `NaN` where samples are left out.
 * @param scale Its levels and noise.
 * @param uncoupled Whether a coupling capacitor was undone.
 * @returns The track, or `null` if no stretch has fringes.
 */
export function trackMotion(
  signal: Float64Array,
  scale: SignalScale,
  uncoupled = false,
): MotionTrack | null {
  const n = signal.length;
  const first = signal.includes(NaN)
    ? detectFringes(fillGaps(signal))
    : detectFringes(signal, scale);
  if (first === null) return null;
  const ended = tellFitTime(n, first.extremes.index.length / 2);
  const stretches = stretchesOf(
    signal,
    Math.max(1, Math.floor(first.fastest / 2)),
    Math.max(shortestStretch, Math.floor(4 * first.fastest)),
  );
  const phase = new Float64Array(n).fill(NaN);
  const uncertainty = new Float32Array(n).fill(NaN);
  const trace: SampleTrace = {
    residual: new Float32Array(n).fill(NaN),
    slope: new Float32Array(n),
    weight: new Float32Array(n),
    feedbackPhase: new Float32Array(n),
    height: new Float32Array(n).fill(1),
  };
  const places: number[] = [];
  const signs: number[] = [];
  const turns: number[] = [];
  const done: TrackStretch[] = [];
  let path = 0;
  let doubtfulSamples = 0;
  let ambiguousSamples = 0;
  let margin = Infinity;
  let end = 0;
  const cosine = new Float32Array(n);
  let best: {
    unwrapped: Unwrapped;
    length: number;
    origin: number;
  } | null = null;
  for (const stretch of stretches) {
    checkpoint(stretch.first / n, "track motion");
    const part = signal.subarray(stretch.first, stretch.last + 1);
    const unwrapped = unwrapPhase(part, {
      known: part.length === n ? first : null,
      uncoupled,
    });
    if (unwrapped === null) continue;
    const { fit, detection } = unwrapped;
    const pieces = tracePhase(part, fit);
    const offset = end - pieces.phase[0]!;
    for (let i = 0; i < part.length; i++) {
      phase[stretch.first + i] = pieces.phase[i]! + offset;
    }
    end += pieces.phase.at(-1)! - pieces.phase[0]!;
    const { heightDoubt } = unwrapped;
    const own = uncertainty.subarray(stretch.first, stretch.last + 1);
    phaseUncertainty(fit, part.length, own);
    heightDoubt?.forEach((doubt, i) => own[i] = Math.hypot(own[i]!, doubt));
    copyTrace(trace, pieces, stretch.first);
    const heights = fit.parameters.height?.values;
    if (heights !== undefined) trace.height.set(heights, stretch.first);
    cosine.set(pieces.cosine, stretch.first);
    margin = Math.min(margin, marginOf(part, detection, fit));
    doubtfulSamples += countDoubtful(
      pieces,
      fit,
      detection,
      uncertainty,
      stretch.first,
    );
    ambiguousSamples += widenTurns(
      unwrapped.otherTurns,
      pieces,
      uncertainty,
      trace,
      stretch.first,
    );
    const events = fringeEvents(
      pieces.phase,
      fit.parameters.p,
      fit.model.feedback * heightRange(fit).least > 1 ? fit.labels.jumps : null,
      0.3,
    );
    for (const place of events.place) places.push(place + stretch.first);
    signs.push(...events.sign);
    for (const index of events.turningPoints) turns.push(index + stretch.first);
    path += events.path;
    done.push({ ...stretch, joined: done.length === 0 });
    if (best === null || part.length > best.length) {
      best = { unwrapped, length: part.length, origin: -offset };
    }
  }
  ended(doubtfulSamples === 0);
  if (best === null) return null;
  const { fit, detection } = best.unwrapped;
  const relativeNoise = fit.noise / fit.parameters.amplitude;
  return {
    phase,
    uncertainty,
    fringePlaces: Float64Array.from(places),
    fringeSigns: Int8Array.from(signs),
    turningPoints: Int32Array.from(turns),
    path,
    stretches: done,
    feedback: feedbackQuantities(fit),
    fringeForm: {
      p: fit.parameters.p,
      q: fit.parameters.q,
      origin: best.origin,
      sense: 1,
      uncertainty: formUncertainty(fit),
    },
    relativeNoise,
    middle: fit.parameters.middle,
    amplitude: fit.parameters.amplitude,
    heightSpread: heightRange(fit).spread,
    hiddenSpread: heightSpread({ ...trace, cosine }, relativeNoise),
    spacing: fit.spacing,
    doubtfulSamples,
    ambiguousSamples,
    margin,
    fastest: detection.fastest,
    trace,
  };
}

/** Least height of the fringes, and their spread, over the mean (1). */
function heightRange({ parameters }: PhaseFit): {
  readonly least: number;
  readonly spread: number;
} {
  if (parameters.height === null) return { least: 1, spread: 0 };
  const { values } = parameters.height;
  const least = values.reduce((low, value) => Math.min(low, value), Infinity);
  return { least, spread: spreadOf(values) };
}

/**
 * Least probability of the other reading of a turn: the noise is not all that may
 * be wrong with the one that is kept.
 */
const leastChance = 1 / 3;

/**
 * Widens the uncertainty where turns read as well the other way, by how far the
 * readings are apart, and leaves these samples out of fits of models.
 *
 * @returns How many samples.
 */
function widenTurns(
  turns: readonly TurnReading[],
  pieces: PhaseTrace,
  uncertainty: Float32Array,
  trace: SampleTrace,
  first: number,
): number {
  const other = new Map<number, number>();
  for (const turn of turns) {
    // The likelier reading is kept; the other has this probability.
    const chance = 1 / (1 + Math.exp(Math.max(0, turn.excess) / 2));
    const part = Math.sqrt(Math.max(leastChance, chance));
    turn.phase.forEach((phase, k) => {
      const i = turn.first + k;
      const apart = part * Math.abs(phase - pieces.phase[i]!);
      other.set(i, Math.max(other.get(i) ?? 0, apart));
    });
  }
  for (const [i, apart] of other) {
    uncertainty[first + i] = Math.hypot(uncertainty[first + i]!, apart);
    trace.weight[first + i] = 0;
  }
  return other.size;
}

function copyTrace(
  into: SampleTrace,
  from: PhaseTrace,
  first: number,
): void {
  into.residual.set(from.residual, first);
  into.slope.set(from.slope, first);
  into.weight.set(from.weight, first);
  const { sine, cosine } = from;
  for (let i = 0; i < sine.length; i++) {
    into.feedbackPhase[first + i] = Math.atan2(sine[i]!, cosine[i]!);
  }
}

/** Counts samples in misfitting places and widens their uncertainty. */
function countDoubtful(
  pieces: PhaseTrace,
  fit: PhaseFit,
  detection: Detection,
  uncertainty: Float32Array,
  first: number,
): number {
  let count = 0;
  for (const misfit of misfitsOfFit(pieces, fit, detection)) {
    count += misfit.last - misfit.first + 1;
    for (let i = misfit.first; i <= misfit.last; i++) {
      // The phase may be off by up to a half fringe there.
      uncertainty[first + i] = Math.max(
        uncertainty[first + i]!,
        doubtfulUncertainty,
      );
    }
  }
  return count;
}
