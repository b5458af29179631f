import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { combineStrokes } from "./combine_strokes.ts";
import type { FeedbackFit } from "./feedback_fit.ts";
import { createStrokeFitter } from "./stroke_fitter.ts";
import { stepsFromPhase } from "./phase_slope.ts";
import { findRamps, type FindRampsOptions, type Stroke } from "./ramps.ts";
import { stepsFromSpectrum } from "./spectrum_peak.ts";
import { stepsFromEdges } from "./step_edges.ts";
import type { StrokeSignal } from "./stroke_signal.ts";

/** Options of {@linkcode measureSteps}. */
export type MeasureStepsOptions = FindRampsOptions;

/** Name of one of the ways to count steps. */
export type StepEstimator =
  | "model fit"
  | "waveform fit"
  | "phase slope"
  | "spectrum"
  | "step edges";

/** What one estimator found over all strokes. */
export interface EstimatorSteps {
  /** Which way of counting. */
  readonly name: StepEstimator;
  /** Steps per ramp (1); `NaN` where it does not apply. */
  readonly steps: Quantity;
}

/** One stroke as it was counted. */
export interface StrokeSteps {
  /** Number of the stroke in the capture, from 0. */
  readonly index: number;
  /** Whether the current rises or falls. */
  readonly direction: "up" | "down";
  /** First sample and sample after the last. */
  readonly start: number;
  readonly end: number;
  /** Steps per whole ramp (1), from the model fit. */
  readonly steps: number;
  /** Standard uncertainty from the noise of this stroke (1). */
  readonly standardUncertainty: number;
  /** Whether the stroke counts in the result. */
  readonly used: boolean;
  /** Why it does not count, or `null`. */
  readonly reason: string | null;
}

/** Curves of one stroke, for figures. */
export interface StrokeTrace {
  /** Whether the current rises or falls. */
  readonly direction: "up" | "down";
  /** Current of each sample, in A. */
  readonly current: Float64Array;
  /** Monitor signal, in its unit. */
  readonly signal: Float64Array;
  /** Fitted power ramp, in the unit of the signal. */
  readonly background: Float64Array;
  /** Fitted signal, in the unit of the signal. */
  readonly fitted: Float64Array;
  /** Currents of the step edges found, in A. */
  readonly edges: readonly number[];
}

/** Steps counted on the ramps of a capture. */
export interface RampSteps extends Result {
  readonly kind: "range.steps";
  /** Steps per whole ramp, with fraction (1). */
  readonly steps: Quantity;
  /** Steps per current, in 1/A. */
  readonly stepsPerCurrent: Quantity;
  /** Steps per ramp of the rising strokes (1), or `null` without any. */
  readonly stepsUp: Quantity | null;
  /** Steps per ramp of the falling strokes (1), or `null` without any. */
  readonly stepsDown: Quantity | null;
  /** Upper minus lower turning current, in A. */
  readonly currentSpan: Quantity;
  /** Current in the middle of the ramp, in A. */
  readonly meanCurrent: number;
  /** Ramps per second, in Hz; `NaN` for a single stroke. */
  readonly modulationFrequency: number;
  /** Duration of a stroke, in s. */
  readonly strokeDuration: number;
  /** Shape of the drive. */
  readonly shape: "triangle" | "sawtooth" | "sine" | "other";
  /**
   * Which way of counting the value comes from: the step edges where the signal
   * jumps (C above about 1) and they agree with the model, else the model fit,
   * or the waveform fit where the model does not describe the signal.
   */
  readonly adopted: StepEstimator;
  /** The ways of counting side by side. */
  readonly estimators: readonly EstimatorSteps[];
  /** Largest difference between two estimators (1). */
  readonly disagreement: number;
  /** Mean square of the fringes over that of the noise, in dB. */
  readonly signalToNoiseRatio: number;
  /** Feedback parameter C by the model fit (1); `NaN` where it has none. */
  readonly feedbackParameter: Quantity;
  readonly diagnostics: {
    /** Every stroke. */
    readonly strokes: readonly StrokeSteps[];
    /** Curves of the first stroke in each direction. */
    readonly traces: readonly StrokeTrace[];
    /** SI unit of the monitor signal. */
    readonly signalUnit: string;
  };
}

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

  const counted: StrokeSteps[] = [];
  const traces: StrokeTrace[] = [];
  const others = {
    "waveform fit": [] as (number | null)[],
    "phase slope": [] as (number | null)[],
    "spectrum": [] as (number | null)[],
    "step edges": [] as (number | null)[],
  };
  let fringePower = 0;
  let noisePower = 0;
  const feedback: number[] = [];
  const modelSteps: (number | null)[] = [];
  let edgeStrokes = 0;
  const fitStroke = createStrokeFitter();
  for (const stroke of strokes) {
    checkpoint(stroke.index / strokes.length, "count steps");
    const signal = strokeSignal(monitor.samples, stroke, low, span);
    const fits = signal === null ? null : fitStroke(signal, stroke.direction);
    if (signal === null || fits === null) {
      counted.push({
        ...place(stroke),
        steps: NaN,
        standardUncertainty: NaN,
        used: false,
        reason: signal === null ? "samples are missing" : "no fringes found",
      });
      modelSteps.push(null);
      for (const list of Object.values(others)) list.push(null);
      continue;
    }
    const { waveform, model } = fits;
    const chosen = model ?? waveform;
    if (model !== null) feedback.push(model.feedbackParameter);
    for (let i = 0; i < signal.x.length; i++) {
      fringePower += (chosen.fitted[i]! - chosen.background[i]!) ** 2 /
        signal.x.length;
    }
    noisePower += chosen.noise ** 2;
    const edges = stepsFromEdges(signal, waveform);
    const byEdges = jumping(model) && edges !== null && edges.clean &&
      Math.abs(edges.steps - chosen.steps) < 0.15;
    if (byEdges) edgeStrokes++;
    modelSteps.push(model?.steps ?? null);
    counted.push({
      ...place(stroke),
      steps: byEdges ? edges.steps : chosen.steps,
      standardUncertainty: byEdges
        ? edges.standardUncertainty
        : chosen.standardUncertainty,
      used: true,
      reason: null,
    });
    others["waveform fit"].push(waveform.steps);
    others["phase slope"].push(stepsFromPhase(signal, waveform)?.steps ?? null);
    others["spectrum"].push(stepsFromSpectrum(signal, waveform)?.steps ?? null);
    others["step edges"].push(edges?.steps ?? null);
    if (!traces.some(({ direction }) => direction === stroke.direction)) {
      traces.push({
        direction: stroke.direction,
        current: signal.x.map((x) => low + span * (x + 1) / 2),
        signal: signal.y,
        background: chosen.background,
        fitted: chosen.fitted,
        edges: edges?.edges.map((x) => low + span * (x + 1) / 2) ?? [],
      });
    }
  }
  if (counted.every(({ used }) => !used)) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count steps as none of the ${counted.length} strokes shows fringes above its noise: look at the alignment and at the light that comes back, or ramp further`,
    );
  }
  const combined = combineStrokes(counted);
  warnings.push(...combined.warnings);
  const estimators: EstimatorSteps[] = [
    { name: "model fit", steps: scatterMean(modelSteps, combined.used) },
    ...Object.entries(others).map(([name, values]) => ({
      name: name as StepEstimator,
      steps: scatterMean(values, combined.used),
    })),
  ];
  const values = estimators.map(({ steps }) => steps.value)
    .filter(Number.isFinite);
  const disagreement = Math.max(...values) - Math.min(...values);
  if (combined.steps.value < 2) {
    warnings.push(warn(
      "few-steps",
      `There are only ${
        combined.steps.value.toFixed(2)
      } steps on the ramp: ramp further or go further away for a better distance`,
      "note",
    ));
  }
  if (disagreement > 0.2) {
    warnings.push(warn(
      "estimators-disagree",
      `The ways of counting differ by ${
        disagreement.toFixed(2)
      } steps: look at the ramp for a mode hop, clipping or fading`,
    ));
  }
  const uSpan = Math.hypot(
    ramps.lowCurrent.standardUncertainty,
    ramps.highCurrent.standardUncertainty,
  );
  const { steps } = combined;
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
    adopted: edgeStrokes > counted.length / 2
      ? "step edges" as const
      : modelSteps.filter((steps) => steps !== null).length >
          counted.length / 2
      ? "model fit" as const
      : "waveform fit" as const,
    estimators,
    disagreement,
    signalToNoiseRatio: 10 * Math.log10(fringePower / noisePower),
    feedbackParameter: scatterMean(feedback, feedback.map(() => true)),
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
      traces,
      signalUnit: monitor.unit,
    },
  });
}

function place({ index, direction, start, end }: Stroke) {
  return { index, direction, start, end };
}

/** Whether the fringes are saw-teeth that jump. */
function jumping(model: FeedbackFit | null): boolean {
  return model !== null && model.feedbackParameter > 1.05;
}

/** The stroke's samples against current; `null` if too many are missing. */
function strokeSignal(
  samples: ArrayLike<number>,
  stroke: Stroke,
  low: number,
  span: number,
): StrokeSignal | null {
  const x: number[] = [];
  const y: number[] = [];
  for (let i = stroke.start; i < stroke.end; i++) {
    const value = samples[i]!;
    if (!Number.isFinite(value)) continue;
    x.push(2 * (stroke.current[i - stroke.start]! - low) / span - 1);
    y.push(value);
  }
  if (x.length < 0.7 * (stroke.end - stroke.start) || x.length < 8) return null;
  return { x: Float64Array.from(x), y: Float64Array.from(y) };
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
