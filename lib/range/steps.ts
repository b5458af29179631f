import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { combineStrokes } from "./combine_strokes.ts";
import {
  createStrokeCounter,
  joinParts,
  splitPair,
  type StrokeCount,
} from "./count_stroke.ts";
import type { FringeFit } from "./fringe_fit.ts";
import { findRamps, type FindRampsOptions, type Stroke } from "./ramps.ts";
import type {
  EstimatorSteps,
  ModeHop,
  RampSteps,
  StrokeTrace,
} from "./steps_result.ts";
import { fitWaveform } from "./stroke_fitter.ts";
import {
  findHops,
  judgeStrokes,
  median,
  splitAtHop,
} from "./stroke_selection.ts";
import {
  joinStrokes,
  selectSamples,
  type StrokeSignal,
} from "./stroke_signal.ts";

/** Options of {@linkcode measureSteps}. */
export type MeasureStepsOptions = FindRampsOptions;

export type {
  EstimatorSteps,
  ModeHop,
  RampSteps,
  StepEstimator,
  StrokeSteps,
  StrokeTrace,
} from "./steps_result.ts";

/**
 * Counts the steps (fringes) on each ramp of a capture, with a fraction, never
 * a bare number of whole steps. Each stroke is counted by itself, against
 * current and not against time; the power ramp is fitted along with the
 * fringes. The value is that of a fit of the excess-phase equation on a power
 * ramp, or of the step edges where these are sharp; the other ways of counting
 * stand beside it.
 *
 * One step is a change of 2π of the phase φ = 4πnL/λ, so over a ramp from λ₁ to
 * λ₂ there are N = 2nL (1/λ₁ - 1/λ₂) steps.
 *
 * @param capture The capture: a `"monitor signal"` channel and a drive channel.
 * @param options As for {@linkcode findRamps}.
 * @returns Steps per ramp and per current with standard uncertainty.
 * @throws {NotMeasurableError} If there is no ramp or there are no fringes.
 *
 * Source: Beheim & Fritsch 1986; Gouaux, Servagent & Bosch 1998.
 *
 * @example
 * ```ts
 * import { measureSteps, rampCurrent, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.2,
 *   current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
 *   samplingRate: 20e3,
 *   duration: 0.4,
 * });
 * // N = 2 L Δλ / λ² with 8 pm/mA over 4 mA at 650 nm
 * const expected = 2 * 0.2 * 32e-12 / 650e-9 ** 2;
 * expect(measureSteps(capture).steps.value).toBeCloseTo(expected, 1);
 * ```
 */
export function measureSteps(
  capture: Capture,
  options: MeasureStepsOptions = {},
): RampSteps & Shown {
  const monitor = requireChannel(capture, "monitor signal");
  const ramps = findRamps(capture, options);
  const { strokes } = ramps.diagnostics;
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  const warnings: Warning[] = [...ramps.warnings];

  const signals = strokes.map((stroke) =>
    strokeSignal(monitor.samples, stroke, low, span)
  );
  let guess = NaN;
  const waveforms = signals.map((signal, i) => {
    checkpoint(0.3 * i / strokes.length, "count steps");
    const fit = signal === null ? null : fitWaveform(signal, guess);
    if (fit !== null) guess = fit.steps;
    return fit;
  });
  if (waveforms.every((fit) => fit === null)) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count steps as none of the ${strokes.length} strokes shows fringes above its noise: look at the alignment and at the light that comes back, or ramp further`,
    );
  }
  const hops = findHops(strokes, signals, waveforms);
  const counters = new Map<string, ReturnType<typeof createStrokeCounter>>();
  const paired = median(
      waveforms.flatMap((fit) => fit === null ? [] : [fit.steps]),
    ) < 4
    ? countPairs(strokes, signals, waveforms)
    : [];
  const counts = strokes.map((stroke, i): StrokeCount | null => {
    const pair = paired[i];
    if (pair) return pair;
    checkpoint(0.3 + 0.7 * i / strokes.length, "count steps");
    const signal = signals[i]!;
    const waveform = waveforms[i]!;
    if (signal === null || waveform === null) return null;
    const parts = splitAtHop(signal, hops[stroke.direction], waveform.steps);
    const counted = parts.flatMap((part, k) => {
      const key = `${parts.length === 1 ? "whole" : stroke.direction + k}`;
      const counter = counters.get(key) ?? createStrokeCounter();
      counters.set(key, counter);
      return counter(
        part,
        stroke.direction,
        parts.length === 1 ? waveform : null,
      ) ?? [];
    });
    return counted.length === 0 ? null : joinParts(counted);
  });
  const counted = judgeStrokes(strokes, signals, counts);
  if (counted.every(({ used }) => !used)) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count steps as none of the ${counted.length} strokes could be counted: look at the alignment and at the light that comes back`,
    );
  }
  const combined = combineStrokes(counted);
  warnings.push(...combined.warnings);
  const estimators: EstimatorSteps[] = [
    {
      name: "model fit",
      steps: scatterMean(
        counts.map((count) => count?.modelSteps ?? null),
        combined.used,
      ),
    },
    ...otherEstimators.map((name) => ({
      name,
      steps: scatterMean(
        counts.map((count) => count?.others[name] ?? null),
        combined.used,
      ),
    })),
  ];
  const kept = counts.filter((count, i): count is StrokeCount =>
    count !== null && combined.used[i]!
  );
  const share = (test: (count: StrokeCount) => boolean) =>
    kept.filter(test).length / kept.length;
  const feedback = kept.flatMap(({ model }) =>
    model === null ? [] : [model.feedbackParameter]
  );
  const current = (x: number) => low + span * (x + 1) / 2;
  const modeHops = (["up", "down"] as const).flatMap((direction): ModeHop[] => {
    const hop = hops[direction];
    return hop === null ? [] : [{
      direction,
      current: quantity(
        current(hop.x),
        span / 2 * Math.hypot(hop.spread, 0.15 / combined.steps.value),
        "A",
      ),
      phase: hop.phase,
      strokes: hop.strokes,
    }];
  });
  for (const hop of modeHops) {
    warnings.push(warn(
      "mode-hop",
      `The phase jumps at ${
        (1e3 * hop.current.value).toFixed(2)
      } mA on the ${hop.direction} strokes, as with a mode hop: both sides of it are counted by themselves. Better ramp where there is none`,
      "note",
    ));
  }
  const unexplained = median(
    kept.map(({ misfit, sampleNoise }) => misfit / sampleNoise),
  );
  if (unexplained > 3 && median(kept.map((c) => c.signalToNoise)) < 300) {
    warnings.push(warn(
      "unexplained-signal",
      `What is left beside the fringes is ${
        unexplained.toFixed(1)
      } times the noise from sample to sample: look for vibration, a second reflection, or clipping`,
    ));
  }
  const strong = median(feedback) > 1;
  // A free waveform cannot be told from its rate on few steps.
  const values = estimators
    .filter(({ name }) =>
      name !== "waveform fit" || combined.steps.value > (strong ? 8 : 3)
    )
    .map(({ steps }) => steps.value)
    .filter(Number.isFinite);
  const disagreement = Math.max(...values) - Math.min(...values);
  if (combined.steps.value < (strong ? 2.3 : 1.3)) {
    warnings.push(warn(
      "few-steps",
      `There are only ${combined.steps.value.toFixed(2)} steps on the ramp${
        strong ? ", and they jump" : ""
      }: the count may be wrong by more than its uncertainty. Ramp further${
        strong ? ", weaken the light that comes back," : ""
      } or go further away`,
    ));
  } else if (combined.steps.value < 2) {
    warnings.push(warn(
      "few-steps",
      `There are only ${
        combined.steps.value.toFixed(2)
      } steps on the ramp: ramp further or go further away for a better distance`,
      "note",
    ));
  }
  if (disagreement > 0.1 + 0.001 * Math.abs(combined.steps.value)) {
    warnings.push(warn(
      "estimators-disagree",
      `The ways of counting differ by ${
        disagreement.toFixed(2)
      } steps: look at the ramp for a mode hop, a thermal lag, clipping or fading`,
    ));
  }
  warnings.push(...samplingWarnings(signals, combined.steps.value));
  const uSpan = Math.hypot(
    ramps.lowCurrent.standardUncertainty,
    ramps.highCurrent.standardUncertainty,
  );
  // Past a hop the wavelength is longer by a mode spacing, some 1e-4 to 4e-4 of
  // it, and the steps per current are fewer by twice that: rectangular, on half
  // of the ramp.
  const steps = modeHops.length === 0 ? combined.steps : quantity(
    combined.steps.value,
    Math.hypot(
      combined.steps.standardUncertainty,
      4e-4 / Math.sqrt(3) * combined.steps.value,
    ),
    "1",
    { degreesOfFreedom: combined.steps.degreesOfFreedom },
  );
  return createResult({
    kind: "range.steps" as const,
    steps,
    // The ends of the ramp only scale the count; their scatter cancels here.
    stepsPerCurrent: quantity(
      steps.value / span,
      steps.standardUncertainty / span,
      "1/A",
      { degreesOfFreedom: steps.degreesOfFreedom },
    ),
    stepsUp: combined.up?.steps ?? null,
    stepsDown: combined.down?.steps ?? null,
    currentSpan: quantity(span, uSpan, "A"),
    meanCurrent: low + span / 2,
    modulationFrequency: ramps.frequency.value,
    strokeDuration: ramps.strokeDuration,
    shape: ramps.shape,
    adopted: share(({ byEdges }) => byEdges) > 0.5
      ? "step edges" as const
      : share(({ model }) => model !== null) > 0.5
      ? "model fit" as const
      : "waveform fit" as const,
    estimators,
    disagreement,
    signalToNoiseRatio: 10 *
      Math.log10(median(kept.map((count) => count.signalToNoise))),
    feedbackParameter: scatterMean(feedback, feedback.map(() => true)),
    leanKnown: share(({ lean }) => lean !== 0) > 0.7,
    modeHops,
    warnings,
    provenance: provenance({
      method: "measureSteps",
      captures: [capture.source],
      options: { ...ramps.provenance.options },
      sources: ["Beheim & Fritsch 1986", "Gouaux, Servagent & Bosch 1998"],
    }),
    diagnostics: {
      strokes: counted.map((stroke, i) => ({
        ...stroke,
        used: combined.used[i]!,
        reason: stroke.reason ??
          (combined.used[i] ? null : "steps differ from the other strokes"),
      })),
      traces: makeTraces(strokes, signals, counts, current),
      signalUnit: monitor.unit,
    },
  });
}

/** Clipping, and too few samples to a step. */
function samplingWarnings(
  signals: readonly (StrokeSignal | null)[],
  steps: number,
): Warning[] {
  const warnings: Warning[] = [];
  const present = signals.filter((signal) => signal !== null);
  const values = present.flatMap(({ y }) => Array.from(y));
  const [low, high] = values.reduce(
    ([low, high], y) => [Math.min(low, y), Math.max(high, y)],
    [Infinity, -Infinity],
  );
  for (const [end, name] of [[low, "lowest"], [high, "highest"]] as const) {
    const share = values.filter((y) => y === end).length / values.length;
    if (share > 0.03) {
      warnings.push(warn(
        "clipped",
        `${
          (100 * share).toFixed(0)
        } % of the samples sit at the ${name} value (${
          end.toPrecision(4)
        }): the signal seems clipped. Take a larger range or less gain`,
      ));
    }
  }
  const perStep = median(present.map(({ x }) => x.length)) / Math.abs(steps);
  if (perStep < 4) {
    warnings.push(warn(
      "few-samples-per-step",
      `There are only ${
        perStep.toFixed(1)
      } samples to a step: faster fringes would be counted as slower ones. Raise the sampling rate or ramp more slowly`,
    ));
  }
  return warnings;
}

const otherEstimators = [
  "waveform fit",
  "phase slope",
  "spectrum",
  "step edges",
] as const;

/** Curves of the first counted stroke in each direction. */
function makeTraces(
  strokes: readonly Stroke[],
  signals: readonly (StrokeSignal | null)[],
  counts: readonly (StrokeCount | null)[],
  current: (x: number) => number,
): StrokeTrace[] {
  return (["up", "down"] as const).flatMap((direction) => {
    const i = strokes.findIndex((stroke, k) =>
      stroke.direction === direction && counts[k] !== null
    );
    const signal = signals[i];
    const count = counts[i];
    if (!signal || !count) return [];
    const whole = count.fitted.length === signal.x.length;
    const blank = () => new Float64Array(signal.x.length).fill(NaN);
    return [{
      direction,
      current: signal.x.map(current),
      signal: signal.y,
      background: whole ? count.background : blank(),
      fitted: whole ? count.fitted : blank(),
      edges: count.edges.map(current),
    }];
  });
}

/**
 * Few steps do not tell steps, C and power ramp apart on one stroke; a rising
 * and a falling stroke together do, if the target rests between them.
 */
function countPairs(
  strokes: readonly Stroke[],
  signals: readonly (StrokeSignal | null)[],
  waveforms: readonly (FringeFit | null)[],
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
    const count = counter(pair, strokes[i]!.direction, waveform);
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

/** The stroke's samples against current; `null` if too many are missing. */
export function strokeSignal(
  samples: ArrayLike<number>,
  stroke: Stroke,
  low: number,
  span: number,
): StrokeSignal | null {
  const count = stroke.end - stroke.start;
  const scale = (current: number) => 2 * (current - low) / span - 1;
  const whole = {
    x: stroke.current.map(scale),
    y: Float64Array.from(
      { length: count },
      (_, i) => samples[i + stroke.start]!,
    ),
  };
  const signal = selectSamples(
    stroke.power === null
      ? whole
      : { ...whole, power: stroke.power.map(scale) },
    (i) => Number.isFinite(whole.y[i]),
  );
  return signal.x.length < 0.7 * count || signal.x.length < 8 ? null : signal;
}

/** Mean over the used strokes, both directions alike, with its scatter. */
function scatterMean(
  values: readonly (number | null)[],
  used: readonly boolean[],
): Quantity {
  const kept = values.filter((value, i): value is number =>
    value !== null && used[i]!
  );
  const n = kept.length;
  if (n === 0) return quantity(NaN, NaN, "1");
  const mean = kept.reduce((sum, value) => sum + value, 0) / n;
  const squares = kept.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return n === 1
    ? quantity(mean, NaN, "1")
    : quantity(mean, Math.sqrt(squares / (n - 1) / n), "1", {
      degreesOfFreedom: n - 1,
    });
}
