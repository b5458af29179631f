import { type Capture, requireChannel } from "../capture/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import { fitShape, type RampCount, strokeSignal } from "./count_ramp.ts";
import {
  createStrokeCounter,
  leanOf,
  qualityOf,
  type StrokeCount,
} from "./count_stroke.ts";
import { fitEdges } from "./edge_fit.ts";
import {
  type FeedbackFit,
  type FeedbackGuess,
  fitFeedback,
} from "./feedback_fit.ts";
import { createFormFitter, hasForm } from "./form_fit.ts";
import type { HopStep } from "./hop_step.ts";
import { guessFrom, type KnownFringes } from "./known_fringes.ts";
import { type RampSettings, rampsOf } from "./ramps.ts";
import type { StrokeSignal } from "./stroke_signal.ts";

/** Part of the strokes that may be unlike those that are known (1). */
const mostUnlike = 0.1;
/** Noise over the usual one up to which a stroke is like the others (1). */
const usualNoise = 1.15;

const none = new Float64Array(0);

/** Strokes that were counted like others, and what they tell of the next. */
export interface LikeCount {
  readonly counted: RampCount;
  readonly known: KnownFringes;
}

/**
 * Counts strokes like those that are known, by the fit of the excess-phase
 * equation alone, each started from the one before in its direction: some ten
 * times faster than strokes of which nothing is known. One that is not like them
 * is searched by itself.
 *
 * @param capture The capture.
 * @param options As for {@linkcode findRamps}, without a time constant.
 * @param known What other strokes told.
 * @param head Count of the first strokes of this capture, to be kept; `null` for
 * none.
 * @returns The count, its curves left out but for the head; `null` where more than
 * a tenth of the strokes are not like the known ones.
 */
export function countLike(
  capture: Capture,
  options: RampSettings,
  known: KnownFringes,
  head: RampCount | null = null,
): LikeCount | null {
  const { samples } = requireChannel(capture, "monitor signal");
  const ramps = rampsOf(capture, {
    ...options,
    thermalTimeConstant: known.timeConstant,
  });
  const { strokes } = ramps.diagnostics;
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  const hops = known.hops.map((hop) => onRamp(hop, known, low, span));
  const guesses = { up: known.up, down: known.down };
  const fitForm = { up: createFormFitter(), down: createFormFitter() };
  const counter = createStrokeCounter();
  const signals: (StrokeSignal | null)[] = [];
  const counts: (StrokeCount | null)[] = [];
  let unlike = 0;
  for (const [i, stroke] of strokes.entries()) {
    checkpoint(i / strokes.length, "count steps");
    const { direction, start, end } = stroke;
    const signal = strokeSignal(samples, stroke, low, span, null, hops);
    const counted = head?.strokes[i];
    const ready = counted?.start === start && counted.end === end
      ? head!.counts[i]
      : undefined;
    if (ready !== undefined) {
      signals.push(signal);
      counts.push(ready && scaled(ready, span / head!.span));
      continue;
    }
    signals.push(null);
    const guess = guesses[direction];
    const fit = signal && guess &&
      fitLike(signal, guess, fitForm[direction]);
    if (fit) {
      guesses[direction] = nextGuess(fit, guess);
      counts.push(countOf(signal, fit));
      continue;
    }
    unlike++;
    if (unlike > mostUnlike * strokes.length) return null;
    const shape = signal && fitShape(signal, guess?.steps ?? NaN, null, hops);
    const count = shape && counter(signal, direction, shape);
    counts.push(count && { ...count, others: null });
  }
  return {
    counted: {
      ramps,
      strokes,
      signals,
      hops,
      waveforms: strokes.map(() => null),
      counts,
      low,
      span,
    },
    known: { ...known, ...guesses, low, span, hops },
  };
}

/** The fit of a stroke that is like the others, or `null`. */
function fitLike(
  signal: StrokeSignal,
  guess: FeedbackGuess,
  fitForm: ReturnType<typeof createFormFitter>,
): FeedbackFit | null {
  const isLike = (fit: FeedbackFit | null) =>
    fit !== null && fit.noise < usualNoise * guess.noise;
  const quick = hasForm(guess) ? fitForm(signal, guess) : null;
  if (isLike(quick)) return quick;
  const fit = guess.keep === undefined
    ? fitFeedback(signal, guess)
    : fitEdges(signal, guess);
  return isLike(fit) ? fit : null;
}

/**
 * Where the fit of the next stroke starts: C stays that of many strokes unless this
 * one has clearly another.
 */
function nextGuess(fit: FeedbackFit, guess: FeedbackGuess): FeedbackGuess {
  const { feedbackParameter, feedbackUncertainty, noise } = guess;
  const next = guessFrom(fit, noise);
  return Math.abs(fit.feedbackParameter - feedbackParameter) <
      5 * fit.feedbackUncertainty
    ? { ...next, feedbackParameter, feedbackUncertainty }
    : next;
}

function countOf(signal: StrokeSignal, fit: FeedbackFit): StrokeCount {
  const { steps, standardUncertainty } = fit;
  return {
    steps,
    standardUncertainty,
    byEdges: false,
    gridUncertainty: 0,
    modelSteps: steps,
    model: { ...fit, fitted: none, background: none },
    others: null,
    ...qualityOf(signal, fit),
    background: none,
    fitted: none,
    edges: [],
    lean: leanOf(fit, signal),
  };
}

/** A hop on a ramp that goes a little less or more far. */
function onRamp(
  { up, down, shift }: HopStep,
  from: Pick<KnownFringes, "low" | "span">,
  low: number,
  span: number,
): HopStep {
  const place = (x: number | null) =>
    x === null
      ? null
      : 2 * (from.low + from.span * (x + 1) / 2 - low) / span - 1;
  return {
    up: place(up),
    down: place(down),
    shift: shift * from.span / span,
  };
}

/** A count on a ramp that goes farther by a factor. */
function scaled(count: StrokeCount, factor: number): StrokeCount {
  const times = (value: number | null) =>
    value === null ? null : factor * value;
  const { others } = count;
  return {
    ...count,
    steps: factor * count.steps,
    standardUncertainty: factor * count.standardUncertainty,
    gridUncertainty: factor * count.gridUncertainty,
    modelSteps: times(count.modelSteps),
    others: others && {
      "waveform fit": times(others["waveform fit"]),
      "phase slope": times(others["phase slope"]),
      "spectrum": times(others["spectrum"]),
      "step edges": times(others["step edges"]),
    },
  };
}
