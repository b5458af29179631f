import type { FeedbackFit } from "./feedback_fit.ts";
import type { FringeFit } from "./fringe_fit.ts";
import { stepsFromPhase } from "./phase_slope.ts";
import { nthSmallest } from "./robust_weights.ts";
import { difference, dot } from "./normal_equations.ts";
import { stepsFromSpectrum } from "./spectrum_peak.ts";
import { stepsFromEdges } from "./step_edges.ts";
import { createStrokeFitter } from "./stroke_fitter.ts";
import { sampleNoise, type StrokeSignal } from "./stroke_signal.ts";

/** The ways of counting that stand beside the model fit. */
export interface OtherCounts {
  readonly "waveform fit": number | null;
  readonly "phase slope": number | null;
  readonly "spectrum": number | null;
  readonly "step edges": number | null;
}

/** A counted stroke. */
export interface StrokeCount {
  /** Steps per whole ramp (1). */
  readonly steps: number;
  /** Standard uncertainty from the noise (1). */
  readonly standardUncertainty: number;
  /** Whether the value comes from the step edges. */
  readonly byEdges: boolean;
  /**
   * Standard uncertainty (1) that strokes share which are sampled alike, of edges
   * that are sharper than a sample.
   */
  readonly gridUncertainty: number;
  /** Steps by the model fit (1), or `null`. */
  readonly modelSteps: number | null;
  readonly model: FeedbackFit | null;
  /** The other ways of counting (1); `null` where they were not tried. */
  readonly others: OtherCounts | null;
  /** Mean square of the fringes over that of the noise (1). */
  readonly signalToNoise: number;
  /** rms of the residuals without the largest 5 %, in the signal's unit. */
  readonly misfit: number;
  /** Noise of the signal from sample to sample, in its unit. */
  readonly sampleNoise: number;
  /**
   * Fitted power ramp and signal, per sample, in the unit of the signal; empty
   * where they were not kept.
   */
  readonly background: Float64Array;
  readonly fitted: Float64Array;
  /** Step edges, from -1 to 1 on the ramp (1). */
  readonly edges: readonly number[];
  /**
   * 1 where the fringes lean as with a rising wavelength, -1 where they lean
   * the other way, 0 where the lean cannot be seen.
   */
  readonly lean: -1 | 0 | 1;
}

/** Counts one stroke after another; see {@linkcode createStrokeFitter}. */
export function createStrokeCounter(): (
  signal: StrokeSignal,
  direction: "up" | "down",
  waveform: FringeFit | null,
  model?: FeedbackFit,
  hint?: FeedbackFit | null,
) => StrokeCount | null {
  const fitStroke = createStrokeFitter();
  return (signal, direction, given, found, hint) => {
    const fits = found !== undefined && given !== null
      ? { waveform: given, model: found }
      : fitStroke(signal, direction, given, hint);
    if (fits === null) return null;
    const { waveform, model } = fits;
    const chosen = model ?? waveform;
    // Edges, phase and spectrum want one stroke at a time.
    const one = signal.seam === undefined;
    const edges = one ? stepsFromEdges(signal, waveform) : null;
    const resolved = model?.keep !== undefined;
    const byEdges = model !== null && !resolved &&
      model.feedbackParameter > 1.05 &&
      edges !== null && edges.clean &&
      Math.abs(edges.steps - chosen.steps) < 0.15;
    const phase = one
      ? stepsFromPhase(
        signal.x,
        difference(signal.y, waveform.background),
        waveform.steps,
      )?.steps ?? null
      : null;
    const spectrum = one ? stepsFromSpectrum(signal, waveform) : null;
    // Saw-teeth may lead the model astray; three other ways then outvote it.
    const votes = model !== null && model.feedbackParameter > 1.05 && !byEdges
      ? outvote(chosen.steps, [edges?.steps ?? null, phase, spectrum])
      : null;
    const adopted = votes ?? (byEdges ? edges : chosen);
    return {
      steps: adopted.steps,
      standardUncertainty: adopted.standardUncertainty,
      byEdges,
      gridUncertainty: byEdges ? edges.gridUncertainty : 0,
      modelSteps: model?.steps ?? null,
      model,
      others: {
        "waveform fit": waveform.steps,
        "phase slope": phase,
        "spectrum": spectrum,
        "step edges": edges?.steps ?? null,
      },
      ...qualityOf(signal, chosen),
      background: chosen.background,
      fitted: chosen.fitted,
      edges: edges?.edges ?? [],
      lean: leanOf(model, signal),
    };
  };
}

/**
 * The middle of three other counts, as sure as they agree, where they agree with
 * one another and not with the model; else `null`.
 */
function outvote(model: number, others: readonly (number | null)[]) {
  const votes = others.filter((value) => value !== null).sort((a, b) => a - b);
  if (votes.length < 3) return null;
  const spread = votes[2]! - votes[0]!;
  const apart = Math.abs(model - votes[1]!);
  return apart > 0.1 && apart > 2 * spread
    ? { steps: votes[1]!, standardUncertainty: Math.max(0.02, spread / 2) }
    : null;
}

/**
 * The count of two strokes fitted together, as one count for each: the average
 * of the two is as sure as the fit.
 */
export function splitPair(count: StrokeCount, seam: number): StrokeCount[] {
  return [[0, seam], [seam, count.fitted.length]].map(([from, to]) => ({
    ...count,
    standardUncertainty: Math.SQRT2 * count.standardUncertainty,
    background: count.background.slice(from, to),
    fitted: count.fitted.slice(from, to),
  }));
}

/** How well a fit describes a stroke. */
export function qualityOf(
  signal: StrokeSignal,
  { fitted, background, noise }: FeedbackFit | FringeFit,
): Pick<StrokeCount, "signalToNoise" | "misfit" | "sampleNoise"> {
  const fringes = difference(fitted, background);
  return {
    signalToNoise: dot(fringes, fringes) / fringes.length / noise ** 2,
    misfit: misfitOf(signal, fitted),
    sampleNoise: sampleNoise(signal.y),
  };
}

/** rms of what the fit leaves, without the largest 5 %. */
function misfitOf({ y }: StrokeSignal, fitted: Float64Array): number {
  const sizes = new Float64Array(y.length);
  for (let i = 0; i < y.length; i++) sizes[i] = Math.abs(y[i]! - fitted[i]!);
  const kept = Math.ceil(0.95 * sizes.length);
  const largest = nthSmallest(sizes, kept - 1);
  let [sum, below] = [0, 0];
  for (let i = 0; i < sizes.length; i++) {
    const size = sizes[i]!;
    if (size < largest) {
      sum += size * size;
      below++;
    }
  }
  return Math.sqrt((sum + (kept - below) * largest ** 2) / kept);
}

/** Which way the saw-teeth lean, from the angle of the model fit. */
export function leanOf(
  model: FeedbackFit | null,
  signal: StrokeSignal,
): -1 | 0 | 1 {
  if (model === null || model.feedbackParameter < 0.15) return 0;
  const noise = model.noise / (model.amplitude * model.feedbackParameter) /
    Math.sqrt(signal.x.length / 8);
  if (noise > 0.1) return 0;
  // A signal that falls with the power is turned by half a turn.
  const last = (signal.seam ?? model.background.length) - 1;
  const rises = (model.background[last]! - model.background[0]!) *
      (signal.x[last]! - signal.x[0]!) > 0;
  const sine = Math.sin(rises ? model.angle : model.angle + Math.PI);
  return sine > 0.4 ? 1 : sine < -0.4 ? -1 : 0;
}
