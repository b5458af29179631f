import { largePages, makeRoom } from "../memory/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { feedbackQuantities } from "./feedback_quantities.ts";
import { ExtremeFinder } from "./extremes.ts";
import { tellFitTime } from "./fit_time.ts";
import { FringeCounter } from "./fringe_counter.ts";
import type { MotionTrack, TrackStretch } from "./motion_track.ts";
import { PhaseStream } from "./phase_stream.ts";
import { formUncertainty } from "./phase_uncertainty.ts";
import { trainOn } from "./training.ts";

/** A turn of the target counts once φ0 has come back by so much, in rad. */
export const turnHeight = 0.3;

/** Copies a phase as seen from an origin. */
function copyFrom(
  origin: number,
  phase: Float64Array,
  into: Float64Array,
): void {
  for (let i = 0; i < phase.length; i++) into[i] = phase[i]! - origin;
}

/**
 * Tracks φ0 through a record of any length, block by block.
 *
 * @param signal The conditioned signal.
 * @returns The track, or `null` if there are no fringes.
 */
export function trackLongRecord(signal: Float64Array): MotionTrack | null {
  const n = signal.length;
  // What an earlier result took is let go of before this one is written.
  checkpoint();
  makeRoom(12 * n, signal.byteLength);
  // The system takes its time to give so much memory.
  checkpoint();
  const path = largePages(new Float64Array(n));
  checkpoint();
  const uncertainty = largePages(new Float32Array(n));
  checkpoint();
  const training = trainOn(signal);
  if (training === null) return null;
  const { fit, unwrapped } = training;
  const { index } = unwrapped.detection.extremes;
  const perSample = (index.length - 1) / 2 / (index.at(-1)! - index[0]!);
  const ended = tellFitTime(n, n * perSample);
  const counter = new FringeCounter(fit.model.p, fit.model.feedback > 1);
  const turns = new ExtremeFinder(turnHeight);
  let doubtfulSamples = 0;
  let seams = 0;
  let origin = NaN;
  const stream = new PhaseStream(training, (block) => {
    const { first, phase } = block;
    if (Number.isNaN(origin)) origin = phase[0]!;
    counter.take(phase, first, block.jumps);
    turns.take(phase, first);
    copyFrom(origin, phase, path.subarray(first));
    uncertainty.set(block.uncertainty, first);
    doubtfulSamples += block.misfits * fit.spacing;
    if (!block.joined) seams++;
  });
  const step = 1 << 16;
  for (let i = 0; i < n; i += step) {
    checkpoint(i / n, "track motion");
    stream.push(signal, i, Math.min(n, i + step));
  }
  stream.finish();
  ended(doubtfulSamples === 0);
  const stretches: TrackStretch[] = [{ first: 0, last: n - 1, joined: true }];
  return {
    phase: path,
    uncertainty,
    fringePlaces: Float64Array.from(counter.places),
    fringeSigns: Int8Array.from(counter.signs),
    turningPoints: Int32Array.from(
      turns.indices.filter((i) => i > 0 && i < n - 1),
    ),
    path: counter.path / (2 * Math.PI),
    stretches,
    feedback: feedbackQuantities(fit),
    fringeForm: {
      p: fit.parameters.p,
      q: fit.parameters.q,
      origin,
      sense: 1,
      uncertainty: formUncertainty(fit),
    },
    relativeNoise: fit.noise / fit.parameters.amplitude,
    middle: fit.parameters.middle,
    amplitude: fit.parameters.amplitude,
    heightSpread: 0,
    hiddenSpread: 0,
    spacing: fit.spacing,
    doubtfulSamples: doubtfulSamples + seams,
    margin: null,
    ambiguousSamples: 0,
    fastest: training.unwrapped.detection.fastest,
    trace: null,
  };
}
