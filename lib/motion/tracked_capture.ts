import { type Capture, findChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { warn, type Warning } from "../result/mod.ts";
import { type Conditioning, conditionSignal } from "./conditioning.ts";
import { isCoupled, longestRest } from "./coupled_signal.ts";
import { withFeedbackDoubt } from "./feedback_doubt.ts";
import { hardEdgesWarning } from "./leaps.ts";
import type { ReadMotionOptions } from "./motion_options.ts";
import { type MotionTrack, trackMotion } from "./motion_track.ts";
import { spreadOf } from "./fringe_height.ts";
import { extremeSpread } from "./extreme_spread.ts";
import { trackLongRecord } from "./long_record.ts";
import { longestJointRecord } from "./phase_stream.ts";
import { knotsAreClose } from "./knot_distance.ts";

/** Mask of the samples between two checkpoints. */
const stride = 0x1ffff;

/**
 * A reading is doubted where another is likelier: logarithm of the ratio of the
 * likelihoods (1). Right readings of the zoo come down to 0.2, wrong ones up to -7,
 * but for few; where the height of the fringes changes wrong ones of the grid reach 20.
 */
const leastMargin = { steady: 0, changing: 20 } as const;
/** Part of a record from which on a rest behind a capacitor is told (1). */
const longRest = 0.1;

/** A capture with its phase, sense of motion settled. */
export interface TrackedCapture {
  readonly conditioning: Conditioning;
  /** The track; positive phase is a receding target. */
  readonly track: MotionTrack;
  /** Sign of the amplifier that was taken. */
  readonly polarity: 1 | -1;
  /** Where the sense of motion comes from. */
  readonly directionSource: "fringe form" | "drive channel" | "not determined";
  readonly warnings: readonly Warning[];
}

/** Conditions a capture, tracks its phase and settles the sense of motion. */
export function trackCapture(
  capture: Capture,
  options: ReadMotionOptions,
  what: string,
): TrackedCapture {
  const {
    couplingCorner,
    removePowerModulation,
    mainsFrequency,
    flattenFading,
  } = options;
  const conditioned = (flattens: boolean) =>
    conditionSignal(capture, {
      couplingCorner,
      removePowerModulation,
      mainsFrequency,
      flattenFading: flattens,
    });
  const tracked = (own: Conditioning) =>
    own.signal.length > longestJointRecord
      ? trackLongRecord(own.signal)
      : trackMotion(own.signal, own, own.diagnostics.couplingCorner !== null);
  const plain = conditioned(false);
  let conditioning = plain;
  let raw = tracked(plain);
  // The height is part of the fit, but for long records and where fringes sink
  // into the noise: there it is evened out where the signal leaves doubts.
  if (flattenFading && (raw === null || isDoubtful(raw, conditioning))) {
    const flat = conditioned(true);
    const helps = raw === null || raw.trace === null || flat.fadedSamples > 0;
    const other = helps ? tracked(flat) : null;
    if (
      other !== null &&
      (raw === null || other.doubtfulSamples < 0.5 * raw.doubtfulSamples)
    ) {
      conditioning = flat;
      raw = other;
    }
  }
  const { middle, amplitude, noise, unit } = conditioning;
  const warnings: Warning[] = [...conditioning.warnings];
  if (raw === null) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot ${what} as the monitor signal has no fringes: its peak-to-peak value is ${
        (2 * amplitude).toPrecision(3)
      } ${unit} about ${middle.toPrecision(3)} ${unit}, with a noise of ${
        noise.toPrecision(3)
      } ${unit}. Move the target by more than half a wavelength, or raise the feedback`,
    );
  }
  const weak = raw.feedback.feedbackParameter.value < 1;
  // Seen in the levels themselves, and not in the fit: it may have followed a
  // wrong reading.
  const fitted = raw.heightSpread;
  const seen = Math.max(
    envelopeSpread(conditioning),
    weak && fitted === 0 ? extremeSpread(plain.signal, plain) : 0,
  );
  const spread = Math.max(seen, raw.hiddenSpread);
  raw = withFeedbackDoubt(raw, spread, beyondNoise(raw, conditioning));
  if (spread > 0.01) {
    warnings.push(warn(
      "height-changes",
      `The height of the fringes changes by ${
        (100 * spread).toFixed(0)
      } % along the record${
        fitted > 0.01 ? " more than was fitted" : ""
      }, and C with it: the uncertainties are widened by that${
        seen > 0 ? ". Use a steadier spot of the target" : ""
      }`,
      seen > 0 && raw.margin === null ? "doubtful" : "note",
    ));
  } else if (fitted > 0.01) {
    warnings.push(warn(
      "height-changes",
      `The height of the fringes changes by ${
        (100 * fitted).toFixed(0)
      } % along the record, and C with it: both were fitted, and C and α are those of the mean height`,
      "note",
    ));
  }
  const polarity = choosePolarity(raw, conditioning, options, warnings);
  // An inverted signal is read with the motion the other way round.
  let track = (polarity === -1) ? reversedTrack(raw) : raw;
  const formTells = raw.feedback.directionDetermined;
  let directionSource: TrackedCapture["directionSource"] = formTells
    ? "fringe form"
    : "not determined";
  if (!formTells) {
    const sense = driveSign(capture, track, options);
    if (sense !== 0) {
      directionSource = "drive channel";
      if (sense < 0) track = reversedTrack(track);
    } else {
      warnings.push(warn(
        "direction-not-determined",
        `The fringes are too symmetric to tell the way of the target (C sin ψ is ${
          raw.feedback.directionSignificance.toPrecision(2)
        } times its standard uncertainty): the sign of the motion may be wrong. Raise the feedback, or give 'driveSense'`,
      ));
    }
  }
  const light = Math.max(spread, fitted) > 0.01 ? "changing" : "steady";
  addDoubts(track, conditioning, leastMargin[light], warnings);
  if (couplingCorner === null && isCoupled(plain)) {
    const rest = longestRest(plain.signal, plain.amplitude, track.fastest);
    if (rest > longRest * plain.signal.length) {
      warnings.push(warn(
        "slow-motion-hidden",
        `The signal swings about 0, as behind a coupling capacitor, and for ${
          (rest / capture.samplingRate).toPrecision(2)
        } s it stays there: motion that is slow against the capacitor's corner is not seen. Couple with DC, or give 'couplingCorner'`,
      ));
    }
  }
  return { conditioning, track, polarity, directionSource, warnings };
}

/** What the fit leaves over the noise (1). */
function beyondNoise(track: MotionTrack, conditioning: Conditioning): number {
  // Very little is left by the table of the fringe and the converter.
  const noise = Math.max(conditioning.noise, 2e-3 * track.amplitude);
  return track.relativeNoise * track.amplitude / noise;
}

/** Relative spread of the height that was evened out (1). */
function envelopeSpread({ diagnostics: { envelope } }: Conditioning): number {
  return envelope.length === 0 ? 0 : spreadOf(envelope);
}

function isDoubtful(track: MotionTrack, conditioning: Conditioning): boolean {
  const excess = track.relativeNoise * track.amplitude / conditioning.noise;
  return track.doubtfulSamples > 0 ||
    (excess > 1.25 && track.relativeNoise > 0.01);
}

function choosePolarity(
  track: MotionTrack,
  conditioning: Conditioning,
  options: ReadMotionOptions,
  warnings: Warning[],
): 1 | -1 {
  const { polaritySignificance, polarity } = track.feedback;
  const clear = Math.abs(polaritySignificance) > 4;
  const { powerSlope } = conditioning.diagnostics;
  if (options.polarity !== "auto") {
    if (clear && polarity !== options.polarity) {
      warnings.push(warn(
        "polarity",
        `The form of the fringes speaks for the other sign of the amplifier than 'polarity' says (${options.polarity}): the sign of the motion may be wrong`,
      ));
    }
    return options.polarity;
  }
  if (powerSlope !== 0) return powerSlope < 0 ? -1 : 1;
  if (clear) return polarity;
  warnings.push(warn(
    "polarity-assumed",
    "The amplifier is taken as not inverting, as neither the drive channel nor the form of the fringes tells: give 'polarity' if it inverts",
    "note",
  ));
  return 1;
}

/** The same track with the motion the other way round; its phase is reused. */
export function reversedTrack(track: MotionTrack): MotionTrack {
  const { phase } = track;
  for (let i = 0; i < phase.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "turn the phase");
    phase[i] = -phase[i]!;
  }
  return {
    ...track,
    fringeSigns: track.fringeSigns.map((sign) => -sign),
    fringeForm: {
      ...track.fringeForm,
      sense: track.fringeForm.sense === 1 ? -1 : 1,
    },
    trace: track.trace === null ? null : {
      ...track.trace,
      slope: track.trace.slope.map((value) => -value),
      feedbackPhase: track.trace.feedbackPhase.map((value) => -value),
    },
  };
}

/** Sign that the drive channel gives the motion; 0 where it tells none. */
function driveSign(
  capture: Capture,
  track: MotionTrack,
  { driveSense }: ReadMotionOptions,
): number {
  if (driveSense === null) return 0;
  const drive = findChannel(capture, "drive voltage") ??
    findChannel(capture, "drive current");
  if (drive === null) return 0;
  let n = 0, sx = 0, sy = 0, sxx = 0, syy = 0, sxy = 0;
  for (let i = 0; i < track.phase.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, "compare with the drive");
    const x = drive.samples[i]!;
    const y = track.phase[i]!;
    if (!Number.isFinite(x) || !Number.isFinite(y)) continue;
    n++;
    sx += x;
    sy += y;
    sxx += x * x;
    syy += y * y;
    sxy += x * y;
  }
  const covariance = n * sxy - sx * sy;
  const scale = Math.sqrt((n * sxx - sx * sx) * (n * syy - sy * sy));
  if (!(scale > 0) || Math.abs(covariance) < 0.3 * scale) return 0;
  return Math.sign(covariance) * (driveSense === "receding" ? 1 : -1);
}

function addDoubts(
  track: MotionTrack,
  conditioning: Conditioning,
  least: number,
  warnings: Warning[],
): void {
  const n = track.phase.length;
  // Whether it is misread is told by the margin; the rest says what else to expect
  // of the fit. A long record has no margin.
  const { margin } = track;
  const rest = margin === null ? "doubtful" : "note";
  if (margin !== null && margin < least) {
    warnings.push(warn(
      "other-course",
      "Another course of the motion, half a fringe or more off in places, is as likely as the one that was found: strokes may be read backwards, or fringes lost. Raise the feedback, lower the noise, or cut out the part that moves steadily",
    ));
  }
  if (track.doubtfulSamples > 0) {
    warnings.push(warn(
      "misfit",
      `${track.doubtfulSamples} of ${n} samples do not follow the phase that was found: a turning point or a fringe may be misread there, and the uncertainty is widened by a half fringe for each place. Where the recorder couples with AC, couple with DC or give 'couplingCorner'`,
      rest,
    ));
  }
  if (track.doubtfulSamples > 0 && runsOneWay(track)) {
    warnings.push(warn(
      "one-way",
      "The course that was found runs one way throughout and does not follow the signal everywhere: a vibration of less than half a fringe, one swing for each fringe of that course, looks like it. Let the target move by several fringes",
    ));
  }
  warnings.push(...hardEdgesWarning(conditioning.signal));
  if (track.ambiguousSamples > 0) {
    warnings.push(warn(
      "ambiguous-turn",
      `A turn close to the top or bottom of a fringe, or at an end of the record, reads as well the other way: ${track.ambiguousSamples} samples there may lie on its other side, and their uncertainty is widened by how far the two are apart. Lower the noise; at an end, record a little longer or cut it off`,
      "note",
    ));
  }
  if (track.stretches.length > 1) {
    warnings.push(warn(
      "gaps",
      `The signal is lost ${
        track.stretches.length - 1
      } times; the motion in between is not known, and each stretch starts where the one before ended`,
    ));
  }
  if (knotsAreClose(track.phase, track)) {
    warnings.push(warn(
      "loose-fit",
      `The motion that fits changes within ${
        (track.spacing / track.fastest / 2).toFixed(1)
      } fringes, so closely that it may follow a wrong reading: look for changes of the light, or cut out the part that moves steadily`,
      rest,
    ));
  }
  if (track.fastest < 5) {
    warnings.push(warn(
      "undersampled",
      `The fastest fringes have only ${
        (2 * track.fastest).toFixed(1)
      } samples each: raise the sampling rate to 20 per fringe`,
      rest,
    ));
  }
  if (track.path < 3) {
    warnings.push(warn(
      "few-fringes",
      `Only ${
        track.path.toFixed(1)
      } fringes were passed, so the form of the fringe is hardly known: move the target farther`,
    ));
  }
  const beyond = track.relativeNoise * track.amplitude / conditioning.noise;
  if (beyond > 1.25 && track.relativeNoise > 0.01) {
    warnings.push(warn(
      "model-misfit",
      `The fit leaves ${
        beyond.toFixed(1)
      } times the noise: the excess-phase model does not describe all of this signal`,
      rest,
    ));
  }
}

/** Fringes of a run that may be so many swings of a small vibration, at least. */
const manyFringes = 10;
/** The net way of a run that does not turn, over its total way (1). */
const oneWay = 0.9;

/** Whether a course of many fringes never turns back. */
function runsOneWay({ phase, path, stretches }: MotionTrack): boolean {
  if (path < manyFringes || stretches.length !== 1) return false;
  const { first, last } = stretches[0]!;
  const net = Math.abs(phase[last]! - phase[first]!) / (2 * Math.PI);
  return net > oneWay * path;
}
