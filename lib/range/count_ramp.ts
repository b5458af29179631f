import { copyOf } from "../memory/mod.ts";
import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createStrokeCounter,
  splitPair,
  type StrokeCount,
} from "./count_stroke.ts";
import { createEdgePairs } from "./edge_pairs.ts";
import type { FeedbackFit } from "./feedback_fit.ts";
import { fitFringes, type FringeFit } from "./fringe_fit.ts";
import { hopShifts, type HopStep } from "./hop_step.ts";
import {
  type Ramps,
  type RampSettings,
  rampsOf,
  type Stroke,
} from "./ramps.ts";
import { fitWaveform } from "./stroke_fitter.ts";
import { median } from "./stroke_selection.ts";
import {
  joinStrokes,
  removePowerRamp,
  selectSamples,
  type StrokeSignal,
} from "./stroke_signal.ts";
import { type WarmStarts, warmStarts } from "./warm_start.ts";

/** Samples between two checkpoints. */
const block = 1 << 17;

/** Every stroke of a capture, counted. */
export interface RampCount {
  readonly ramps: Ramps;
  readonly strokes: readonly Stroke[];
  /** One for each stroke; `null` where too many samples are missing. */
  readonly signals: readonly (StrokeSignal | null)[];
  /** Mode hops that were taken into account. */
  readonly hops: readonly HopStep[];
  /** Free waveform of each stroke; `null` where there are no fringes. */
  readonly waveforms: readonly (FringeFit | null)[];
  /** One for each stroke; `null` where there are no fringes. */
  readonly counts: readonly (StrokeCount | null)[];
  /** Current at the lower end of the ramp, in A. */
  readonly low: number;
  /** Upper minus lower end, in A. */
  readonly span: number;
}

/**
 * Counts the strokes of a capture.
 *
 * @param capture The capture.
 * @param options As for {@linkcode findRamps}.
 * @param mostStrokes Strokes to count, from the first.
 * @param lagCourse Lagging current in A for a time constant in s: leaves the time
 * constant free to change, on rising and falling strokes together.
 * @param hops Mode hops to take into account.
 * @param before A count of the same capture to start from, or `null`.
 * @throws {NotMeasurableError} If there is no ramp or there are no fringes.
 */
export function countRamp(
  capture: Capture,
  options: RampSettings,
  mostStrokes = Infinity,
  lagCourse: ((timeConstant: number) => Float64Array) | null = null,
  hops: readonly HopStep[] = [],
  before: RampCount | null = null,
): RampCount {
  const monitor = requireChannel(capture, "monitor signal");
  const ramps = rampsOf(capture, options);
  const strokes = ramps.diagnostics.strokes.slice(0, mostStrokes);
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;

  const lag = lagCourse === null
    ? null
    : lagSlope(lagCourse, options.thermalTimeConstant ?? 0, span);
  const signals = strokes.map((stroke) =>
    strokeSignal(monitor.samples, stroke, low, span, lag, hops)
  );
  const warm = before === null ? null : warmStarts(before, strokes, signals);
  let guess = NaN;
  const alike: { up: FringeFit | null; down: FringeFit | null } = {
    up: null,
    down: null,
  };
  const waveforms = signals.map((signal, i) => {
    checkpoint(0.3 * i / strokes.length, "count steps");
    const { direction } = strokes[i]!;
    const like = warm?.waveform(i) ?? alike[direction];
    const fit = signal === null ? null : fitShape(signal, guess, like, hops);
    if (fit !== null) {
      guess = fit.steps;
      alike[direction] = fit;
    }
    return fit;
  });
  if (waveforms.every((fit) => fit === null)) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count steps as none of the ${strokes.length} strokes shows fringes above its noise: look at the alignment and at the light that comes back, or ramp further (a single step of strong feedback looks like a bent power ramp)`,
    );
  }
  const counter = createStrokeCounter();
  const paired = median(
      waveforms.flatMap((fit) => fit === null ? [] : [fit.steps]),
    ) < 4
    ? countPairs(strokes, signals, waveforms, warm)
    : [];
  const counts: (StrokeCount | null)[] = [...paired];
  const pairs = createEdgePairs(lag !== null);
  const countStroke = (i: number, found?: FeedbackFit): StrokeCount | null => {
    checkpoint(0.3 + 0.7 * i / strokes.length, "count steps");
    const stroke = strokes[i]!;
    const signal = signals[i] ?? null;
    const waveform = waveforms[i] ?? null;
    if (signal === null || waveform === null) return null;
    return counter(
      signal,
      stroke.direction,
      waveform,
      found,
      warm?.model(i) ?? null,
    );
  };
  const pairAt = (i: number) => {
    const [first, second] = [signals[i], signals[i + 1]];
    const { direction } = strokes[i]!;
    return first && second && waveforms[i] && waveforms[i + 1] &&
        strokes[i + 1]?.direction !== direction
      ? { first, second, direction }
      : null;
  };
  for (let i = 0; i < strokes.length; i++) {
    if (counts[i]) continue;
    // The last stroke has no other after it: with the one before.
    const from = i === strokes.length - 1 ? i - 1 : i;
    const pair = from < 0 ? null : pairAt(from);
    const followed = pair === null
      ? null
      : pairs.follow(pair, warm?.pair(from));
    if (followed !== null) {
      if (from === i) counts[i] = countStroke(i, followed[0]);
      counts[from + 1] = countStroke(from + 1, followed[1]);
      i = from + 1;
      continue;
    }
    counts[i] = countStroke(i);
    if (pair === null || from < i) continue;
    counts[i + 1] = countStroke(i + 1);
    const [a, b] = [counts[i]?.model, counts[i + 1]?.model];
    const joined = !a || !b ? null : pairs.join(pair, a, b);
    if (joined !== null) {
      counts[i] = countStroke(i, joined[0]);
      counts[i + 1] = countStroke(i + 1, joined[1]);
    }
    i++;
  }
  for (let i = 0; i < strokes.length; i++) counts[i] ??= null;
  return { ramps, strokes, signals, hops, waveforms, counts, low, span };
}

/**
 * Few steps do not tell steps, C and power ramp apart on one stroke; a rising
 * and a falling stroke together do, if the target rests between them.
 */
function countPairs(
  strokes: readonly Stroke[],
  signals: readonly (StrokeSignal | null)[],
  waveforms: readonly (FringeFit | null)[],
  warm: WarmStarts | null,
): (StrokeCount | null)[] {
  const counts: (StrokeCount | null)[] = strokes.map(() => null);
  const counter = createStrokeCounter();
  for (let i = 0; i + 1 < strokes.length; i++) {
    const [a, b] = [signals[i], signals[i + 1]];
    const waveform = waveforms[i];
    if (
      !a || !b || !waveform ||
      strokes[i]!.direction === strokes[i + 1]!.direction
    ) continue;
    checkpoint(0.3 + 0.7 * i / strokes.length, "count steps");
    const pair = joinStrokes(a, b);
    const count = counter(
      pair,
      strokes[i]!.direction,
      waveform,
      undefined,
      warm?.pair(i),
    );
    // More than noise is left where the target did not rest.
    if (count?.model && count.misfit < 1.5 * count.sampleNoise) {
      [counts[i], counts[i + 1]] = splitPair(count, pair.seam!) as [
        StrokeCount,
        StrokeCount,
      ];
    }
    i++;
  }
  return counts;
}

/**
 * Fit of a free waveform; `null` for none.
 *
 * @param guess Steps (1), or `NaN`.
 * @param like The fit of a stroke that may be alike.
 * @param hops Mode hops that shift the current, but not the power.
 */
export function fitShape(
  signal: StrokeSignal,
  guess: number,
  like: FringeFit | null,
  hops: readonly HopStep[],
): FringeFit | null {
  if (hops.length === 0) return fitWaveform(signal, guess, like);
  const flat = { x: signal.x, y: removePowerRamp(signal) };
  const start = fitWaveform(flat, guess, like);
  return start === null ? null : fitFringes(signal, start.phase);
}

/** dx/dτ of every sample of the record, in 1/s. */
function lagSlope(
  course: (timeConstant: number) => Float64Array,
  timeConstant: number,
  span: number,
): Float64Array {
  const step = 0.02 * timeConstant;
  const [here, there] = [course(timeConstant), course(timeConstant + step)];
  return here.map((value, i) => 2 * (there[i]! - value) / span / step);
}

/**
 * The stroke's samples against current, shifted by the hops; `null` if too many
 * are missing.
 */
export function strokeSignal(
  samples: ArrayLike<number>,
  stroke: Stroke,
  low: number,
  span: number,
  lag: Float64Array | null = null,
  hops: readonly HopStep[] = [],
): StrokeSignal | null {
  checkpoint();
  const count = stroke.end - stroke.start;
  const onRamp = (current: Float64Array) => {
    const out = new Float64Array(count);
    for (let from = 0; from < count; from += block) {
      checkpoint();
      const to = Math.min(count, from + block);
      for (let i = from; i < to; i++) {
        out[i] = 2 * (current[i]! - low) / span - 1;
      }
    }
    return out;
  };
  const x = onRamp(stroke.current);
  const power = stroke.power !== null
    ? onRamp(stroke.power)
    : hops.length > 0
    ? x
    : null;
  const shifts = hops.length > 0
    ? hopShifts(power!, hops, stroke.direction)
    : null;
  const y = copyOf(samples, "", stroke.start, stroke.end);
  checkpoint();
  const signal = selectSamples(
    {
      x: shifts === null ? x : x.map((value, i) => value + shifts[i]!),
      y,
      ...(power && { power }),
      ...(lag && { lag: lag.slice(stroke.start, stroke.end) }),
      ...(shifts && { startShifts: [shifts[0]!] }),
    },
    (i) => Number.isFinite(y[i]),
  );
  return signal.x.length < 0.7 * count || signal.x.length < 8 ? null : signal;
}
