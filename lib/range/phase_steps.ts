import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { checkpoint } from "../progress/mod.ts";
import {
  createResult,
  provenance,
  quantity,
  warn,
  type Warning,
} from "../result/mod.ts";
import { coarseSteps } from "./coarse_steps.ts";
import { combineStrokes } from "./combine_strokes.ts";
import { strokeSignal } from "./count_ramp.ts";
import { type CountedSteps, nextBlock } from "./earlier_part.ts";
import { difference } from "./normal_equations.ts";
import { type PhaseSlope, stepsFromPhase } from "./phase_slope.ts";
import { rampFields, usedStrokes } from "./ramp_fields.ts";
import { type RampSettings, rampsOf } from "./ramps.ts";
import { samplingWarnings } from "./sampling_warnings.ts";
import { scatterMean } from "./scatter_mean.ts";
import type {
  StepEstimator,
  StrokeSteps,
  StrokeTrace,
} from "./steps_result.ts";
import { median } from "./stroke_selection.ts";
import { removePowerRamp, type StrokeSignal } from "./stroke_signal.ts";
import { thinCapture } from "./thin_capture.ts";

/** The phase of a stroke may lie this far from a smooth course, in rad (rms). */
const mostScatter = 0.7;
/** Below so many steps a power ramp and the shape of the fringes tell. */
const fewSteps = 8;

/** A stroke counted by its phase. */
interface PhaseCount {
  readonly slope: PhaseSlope;
  /** The fringes without the power ramp, in the unit of the signal. */
  readonly fringes: Float64Array;
}

/**
 * Counts the strokes by the slope of their phase alone; see
 * {@linkcode measureSteps}.
 *
 * @param known Samples in one, where an earlier part of the record told.
 */
export function measurePhaseSteps(
  capture: Capture,
  options: RampSettings & { thermalTimeConstant: number },
  known: number | null = null,
): CountedSteps {
  const monitor = requireChannel(capture, "monitor signal");
  const { capture: thinned, block } = thinCapture(capture, {
    ...options,
    thermalTimeConstant: 0,
  }, known);
  const ramps = rampsOf(thinned, options);
  const { strokes } = ramps.diagnostics;
  const low = ramps.lowCurrent.value;
  const span = ramps.highCurrent.value - low;
  const { samples } = requireChannel(thinned, "monitor signal");
  const countStroke = createPhaseCounter();
  const traces = new Map<"up" | "down", StrokeTrace>();
  const slopes = strokes.map((stroke, i): PhaseSlope | string => {
    checkpoint(i / strokes.length, "count steps");
    const signal = strokeSignal(samples, stroke, low, span);
    if (signal === null) return "samples are missing";
    const count = countStroke(signal, stroke.direction);
    if (count === null) return "no fringes found";
    if (!traces.has(stroke.direction)) {
      traces.set(
        stroke.direction,
        traceOf(stroke.direction, signal, count.fringes, low, span),
      );
    }
    return count.slope;
  });
  const counted = strokes.map((stroke, i): StrokeSteps => {
    const { index, direction, start, end } = stroke;
    const slope = slopes[i]!;
    const found = typeof slope !== "string";
    return {
      index,
      direction,
      start,
      end,
      steps: found ? slope.steps : NaN,
      standardUncertainty: found
        ? Math.hypot(
          slope.standardUncertainty,
          slope.steps * stroke.currentRelativeUncertainty,
        )
        : NaN,
      used: found,
      reason: found ? null : slope,
    };
  });
  if (counted.every(({ used }) => !used)) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count steps by the slope of the phase as none of the ${counted.length} strokes shows 4 fringes or more above its noise: ramp further, count with the estimator "model fit", or look at the alignment`,
    );
  }
  // The means over whole steps leave no jumps.
  const combined = combineStrokes(counted, false);
  const { steps } = combined;
  const warnings: Warning[] = [
    ...ramps.warnings,
    ...combined.warnings,
    warn(
      "phase-slope-alone",
      `Steps are counted by the slope of the phase alone: C, mode hops and a thermal lag are not looked for. Count some captures with the estimator "model fit", too`,
      "note",
    ),
  ];
  if (steps.value < fewSteps) {
    warnings.push(warn(
      "few-steps",
      `There are only ${
        steps.value.toFixed(2)
      } steps on the ramp, too few to trust the slope of the phase alone: count with the estimator "model fit"`,
    ));
  }
  warnings.push(...samplingWarnings(
    counted.map(({ start, end }) =>
      monitor.samples.subarray(block * start, block * end)
    ),
    steps.value,
  ));
  const ratios = slopes.flatMap((slope, i) =>
    typeof slope !== "string" && combined.used[i]
      ? [(slope.amplitude / slope.noise) ** 2 / 2]
      : []
  );
  const none = quantity(NaN, NaN, "1");
  const result = createResult({
    kind: "range.steps" as const,
    ...rampFields(thinned, ramps, combined, steps),
    thermalTimeConstant: quantity(options.thermalTimeConstant, 0, "s"),
    adopted: "phase slope" as const,
    estimators: ([
      "model fit",
      "waveform fit",
      "phase slope",
      "spectrum",
      "step edges",
    ] as const).map((name: StepEstimator) => ({
      name,
      steps: name === "phase slope"
        ? scatterMean(counted.map((stroke) => stroke.steps), combined.used)
        : none,
    })),
    disagreement: NaN,
    signalToNoiseRatio: 10 * Math.log10(median(ratios)),
    feedbackParameter: none,
    leanKnown: false,
    modeHops: [],
    warnings,
    provenance: provenance({
      method: "measureSteps",
      captures: [capture.source],
      options: { ...ramps.provenance.options, estimator: "phase slope" },
      inputs: ramps.provenance.inputs,
      sources: ["Beheim & Fritsch 1986"],
    }),
    diagnostics: {
      strokes: usedStrokes(counted, combined, block),
      traces: [...traces.values()],
      unexplained: NaN,
      signalUnit: monitor.unit,
    },
  });
  return {
    steps: result,
    told: {
      block: nextBlock(block, strokes, steps.value),
      fringes: null,
      like: 0,
    },
  };
}

/** Counts one stroke after another, each from the one before it. */
function createPhaseCounter() {
  const guesses = { up: NaN, down: NaN };
  return (
    signal: StrokeSignal,
    direction: "up" | "down",
  ): PhaseCount | null => {
    const fringes = removePowerRamp(signal);
    const n = fringes.length;
    for (const search of [false, true]) {
      const guess = search ? coarseSteps(signal).steps : guesses[direction];
      if (!(guess > 0)) continue;
      const slope = stepsFromPhase(signal.x, fringes, guess);
      // An F test with room for the many rates that were tried.
      if (
        slope !== null && slope.scatter < mostScatter &&
        slope.explained * (n - 6) / (1 - slope.explained) > 40
      ) {
        guesses[direction] = slope.steps;
        return { slope, fringes };
      }
    }
    return null;
  };
}

function traceOf(
  direction: "up" | "down",
  { x, y }: StrokeSignal,
  fringes: Float64Array,
  low: number,
  span: number,
): StrokeTrace {
  return {
    direction,
    current: x.map((value) => low + span * (value + 1) / 2),
    signal: y,
    background: difference(y, fringes),
    fitted: new Float64Array(x.length).fill(NaN),
    edges: [],
  };
}
