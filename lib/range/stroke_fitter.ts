import { coarseSteps } from "./coarse_steps.ts";
import { fitEdges } from "./edge_fit.ts";
import {
  type FeedbackFit,
  type FeedbackStart,
  fitFeedback,
  searchFeedback,
} from "./feedback_fit.ts";
import { fitFringes, type FringeFit } from "./fringe_fit.ts";
import { fringePhase } from "./mode_hop.ts";
import { legendreColumns, solveColumns } from "./normal_equations.ts";
import { sampleNoise, type StrokeSignal, thin } from "./stroke_signal.ts";

/** The fits of one stroke. */
export interface StrokeFits {
  /** Periodic waveform of free shape. */
  readonly waveform: FringeFit;
  /** Excess-phase equation; `null` where the free shape fits better. */
  readonly model: FeedbackFit | null;
}

/** Strokes on which something is looked for in vain before it is given up. */
const mostFailures = 6;

/**
 * Makes a function that fits one stroke after another and starts each where the
 * stroke before in the same direction ended.
 */
export function createStrokeFitter(): (
  signal: StrokeSignal,
  direction: "up" | "down",
  waveform?: FringeFit | null,
  hint?: FeedbackFit | null,
) => StrokeFits | null {
  let guess = NaN;
  let failures = 0;
  // Whether the amplifier's pole shows is a matter of the whole capture.
  let shown = 0;
  let hidden = 0;
  const last: Record<"up" | "down", FeedbackFit | null> = {
    up: null,
    down: null,
  };
  const refinedLast: Record<"up" | "down", FeedbackFit | null> = {
    up: null,
    down: null,
  };
  // A stroke that a knock disturbed is no start for others, unless all are such.
  let disturbed = 0;
  const remember = (
    fits: Record<"up" | "down", FeedbackFit | null>,
    direction: "up" | "down",
    fit: FeedbackFit,
    noise: number,
  ) => {
    const spoilt = fit.noise > 1.3 * noise;
    if (spoilt) disturbed++;
    if (!spoilt || disturbed > mostFailures) fits[direction] = fit;
  };
  const poleless = () => hidden >= mostFailures && hidden > shown / 4;
  return (signal, direction, given = null, hint = null) => {
    const waveform = given ?? fitWaveform(signal, guess);
    if (waveform === null) return null;
    guess = waveform.steps;
    const noise = sampleNoise(signal.y);
    if (hint !== null) {
      const fit = hint.keep === undefined
        ? fitFeedback(signal, hint)
        : fitEdges(signal, hint);
      if (fit !== null && fit.noise < 1.15 * hint.noise) {
        const fits = fit.keep === undefined ? last : refinedLast;
        remember(fits, direction, fit, noise);
        return { waveform, model: fit };
      }
    }
    // A stroke like the one before it needs no search.
    const usual = refinedLast[direction] ??
      (signal.seam === undefined ? refinedLast.up ?? refinedLast.down : null);
    if (usual !== null && !poleless()) {
      const refined = fitEdges(signal, usual);
      if (refined !== null && refined.noise < 1.15 * usual.noise) {
        shown++;
        remember(refinedLast, direction, refined, noise);
        return { waveform, model: refined };
      }
    }
    const before = last[direction];
    let model: FeedbackFit | null = null;
    if (before !== null) {
      model = fitFeedback(signal, before);
      if (model !== null && model.noise > 1.2 * before.noise) model = null;
    }
    if (model === null) {
      // What the equation never described it will not describe on the rest.
      if (failures >= mostFailures && before === null) {
        return { waveform, model: null };
      }
      const other = last.up ?? last.down;
      const starts = searchFeedback(
        signal,
        waveform,
        other === null ? undefined : [other.feedbackParameter],
      );
      const most = Math.max(600, Math.ceil(20 * waveform.steps));
      const far = signal.seam === undefined && signal.x.length > 1.5 * most;
      const means = far ? thin(signal, most) : signal;
      for (const start of pick(starts, waveform.steps < 4 ? 6 : 2)) {
        const fit = fitFeedback(
          means,
          start,
          // On few steps a start may come from far behind.
          waveform.steps < 4 ? undefined : model?.cost,
        );
        if (fit !== null && fit.cost < (model?.cost ?? Infinity)) model = fit;
      }
      if (far && model !== null) model = fitFeedback(signal, model);
    }
    if (model !== null && model.noise > 1.1 * waveform.noise) model = null;
    if (model !== null) {
      remember(last, direction, model, noise);
    }
    failures = model === null ? failures + 1 : -Infinity;
    if (model === null || poleless()) return { waveform, model };
    const refined = refineEdges(signal, model);
    if (refined !== null) {
      shown++;
      remember(refinedLast, direction, refined, noise);
      model = refined;
    } else hidden++;
    return { waveform, model };
  };
}

/**
 * The fit with the amplifier's pole; `null` where it is no better than without.
 */
function refineEdges(
  signal: StrokeSignal,
  model: FeedbackFit,
): FeedbackFit | null {
  const fit = fitEdges(signal, model);
  return fit !== null && fit.noise < 1.05 * model.noise ? fit : null;
}

/** The best start of each number of steps, and the best few of the rest. */
function pick(starts: readonly FeedbackStart[], most: number): FeedbackStart[] {
  const firsts = new Map<number, FeedbackStart>();
  for (const start of starts) {
    const key = Math.round(100 * start.phase[0]!);
    if (!firsts.has(key)) firsts.set(key, start);
  }
  const best = [...firsts.values()].slice(0, most);
  return [...best, ...starts.filter((start) => !best.includes(start))]
    .slice(0, most + 2);
}

/**
 * Fit of a free waveform from a search and from a guess; `null` for none.
 *
 * @param like The fit of a stroke that may be alike: then no search is made.
 */
export function fitWaveform(
  signal: StrokeSignal,
  guess: number,
  like: FringeFit | null = null,
): FringeFit | null {
  if (like !== null) {
    const fit = fitFringes(signal, like.phase);
    if (fit !== null && fit.converged && fit.noise < 1.15 * like.noise) {
      return fit;
    }
  }
  const coarse = coarseSteps(signal);
  const n = signal.x.length;
  // An F test with room for the many rates that were tried.
  if (coarse.explained * (n - 6) / (1 - coarse.explained) < 40) return null;
  const starts = [coarse.steps];
  if (Math.abs(guess - coarse.steps) < 1.5) starts.push(guess);
  let best: FringeFit | null = null;
  for (const start of starts) {
    const fit = fitFringes(signal, start);
    if (fit !== null && fit.noise < (best?.noise ?? Infinity)) best = fit;
  }
  return best === null ? null : followBend(signal, best);
}

/**
 * Where the fringes leave more than the noise, as under a thermal lag: a phase
 * of higher order, started from the phase averaged over each fringe.
 */
function followBend(signal: StrokeSignal, fit: FringeFit): FringeFit {
  // Among few samples to a step the fringes themselves look like noise.
  const noise = signal.x.length > 12 * fit.steps ? sampleNoise(signal.y) : 0;
  let best = fit;
  if (fit.noise < 1.3 * noise) return best;
  const trace = fringePhase(signal, fit);
  if (trace === null) return best;
  for (const order of [5, 7, 9]) {
    if (trace.x.length < 3 * order) break;
    const bend = solveColumns(legendreColumns(trace.x, order), trace.phase);
    if (bend === null) break;
    const start = Array.from(bend.coefficients.slice(1));
    start[0]! += Math.PI * fit.steps;
    const next = fitFringes(signal, start);
    if (next === null || next.noise > 0.98 * best.noise) break;
    if (next.noise < 0.9 * best.noise) best = next;
    if (best.noise < 1.3 * noise) break;
  }
  return best;
}
