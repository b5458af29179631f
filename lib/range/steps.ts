import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  choiceOption,
  type Option,
  optional,
  optionOf,
  type ReadOptions,
  readOptions,
  requireCapture,
} from "../options/mod.ts";
import {
  createResult,
  provenance,
  quantity,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { combineStrokes } from "./combine_strokes.ts";
import { countLong } from "./count_long.ts";
import type { StrokeCount } from "./count_stroke.ts";
import {
  type CountedSteps,
  type EarlierPart,
  nextBlock,
} from "./earlier_part.ts";
import { gridCoherence } from "./edge_grid.ts";
import { measurePhaseSteps } from "./phase_steps.ts";
import { rampFields, usedStrokes } from "./ramp_fields.ts";
import { type FindRampsOptions, type RampSettings, rampSpec } from "./ramps.ts";
import { samplingWarnings } from "./sampling_warnings.ts";
import { scatterMean } from "./scatter_mean.ts";
import { makeTraces } from "./step_traces.ts";
import { stepsChange } from "./steps_change.ts";
import type { EstimatorSteps, ModeHop, RampSteps } from "./steps_result.ts";
import { feedbackOf, judgeStrokes, median } from "./stroke_selection.ts";
import { weightedMean } from "./weighted_mean.ts";
import { thinCapture } from "./thin_capture.ts";

/** Options of {@linkcode measureSteps}. */
export interface MeasureStepsOptions
  extends Omit<FindRampsOptions, "thermalTimeConstant"> {
  /**
   * Time constant with which the wavelength follows the current, in s; 0 takes
   * it to follow at once. `null` looks for one where what the fringes leave
   * asks for it.
   *
   * @default {null}
   */
  thermalTimeConstant?: number | string | null;
  /**
   * How strokes are counted: by a fit of the excess-phase equation with all that
   * is looked for beside it, or by the slope of the unwrapped phase alone, many
   * times faster: for thousands of captures or a record of hours. Then C, mode
   * hops and a thermal lag are not looked for; 4 steps are needed, and below 8
   * the count is doubtful.
   *
   * @default {"model fit"}
   */
  estimator?: "model fit" | "phase slope";
}

/** The options of {@linkcode measureSteps}. */
export const stepsSpec = {
  ...rampSpec,
  thermalTimeConstant: optional(
    optionOf.notNegative(
      "Time constant with which the wavelength follows the current, in s.",
      "s",
      "0.5ms",
    ),
    null,
    "looked for where what the fringes leave asks for it",
  ),
  estimator: optional(
    choiceOption("How strokes are counted.", ["model fit", "phase slope"]),
    "model fit",
  ),
} satisfies Record<keyof MeasureStepsOptions, Option>;

/** How steps are counted: {@linkcode MeasureStepsOptions} as read. */
export type StepSettings =
  & Omit<RampSettings, "thermalTimeConstant">
  & Partial<
    Pick<ReadOptions<typeof stepsSpec>, "thermalTimeConstant" | "estimator">
  >;

export type {
  CurrentDoubt,
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
 * stand beside it. Strokes of many thousands of samples are counted on means of
 * neighbouring samples, as long as a step keeps two dozen of them. Of more than 36
 * strokes the first 24 are counted in every way and searched for mode hops and a
 * thermal lag; the others by the fit of the excess-phase equation with what these
 * told, unless more than a tenth of them look otherwise: then all are searched.
 *
 * The standard uncertainty holds the noise within and the scatter between the
 * strokes, a thermal lag that may hide in the noise, a step of the phase that is
 * too small to be told, and, past a mode hop, the step of the phase and the longer
 * wavelength. With limited degrees of freedom where the scatter decides, or fringes
 * jump.
 *
 * With `estimator: "phase slope"` each stroke is turned back by the phase guessed,
 * averaged over one step twice, and the slope of its unwrapped phase is the count.
 * The standard uncertainty is then that of the noise the phase shows, or the
 * scatter between the strokes where that is larger; what was not looked for is
 * `NaN`, `null` or empty in the result.
 *
 * One step is a change of 2π of the phase φ = 4πnL/λ, so over a ramp from λ₁ to
 * λ₂ there are N = 2nL (1/λ₁ - 1/λ₂) steps.
 *
 * @param capture The capture: a `"monitor signal"` channel and a drive channel.
 * @param options As for {@linkcode findRamps}.
 * @returns Steps per ramp and per current with standard uncertainty.
 * @throws {NotMeasurableError} If there is no ramp or there are no fringes.
 *
 * Source: Beheim & Fritsch 1986; Gouaux, Servagent & Bosch 1998 (from memory).
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
 *
 * @example The slope of the phase alone, for thousands of captures
 * ```ts
 * import { measureSteps, rampCurrent, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.3,
 *   current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
 *   samplingRate: 20e3,
 *   duration: 0.4,
 * });
 * const { steps } = measureSteps(capture, { estimator: "phase slope" });
 * expect(steps.value).toBeCloseTo(measureSteps(capture).steps.value, 1);
 * ```
 */
export function measureSteps(
  capture: Capture,
  options: MeasureStepsOptions = {},
): RampSteps & Shown {
  const task = "count steps";
  requireCapture(capture, task);
  return countSteps(capture, readOptions(stepsSpec, options, task)).steps;
}

/** Parts counted like one before them, before one is searched again. */
const mostLike = 63;

/**
 * {@linkcode measureSteps} with what an earlier part of the record told.
 *
 * @param earlier What it told, or `null`.
 */
export function countSteps(
  capture: Capture,
  options: StepSettings,
  earlier: EarlierPart | null = null,
): CountedSteps {
  const { thermalTimeConstant = null, estimator = "model fit", ...others } =
    options;
  if (estimator === "phase slope") {
    return measurePhaseSteps(capture, {
      ...others,
      thermalTimeConstant: thermalTimeConstant ?? 0,
    }, earlier?.block);
  }
  const monitor = requireChannel(capture, "monitor signal");
  const { capture: thinned, block } = thinCapture(
    capture,
    others,
    earlier?.block,
  );
  const known = earlier !== null && earlier.like < mostLike
    ? earlier.fringes
    : null;
  const long = countLong(thinned, others, thermalTimeConstant, known);
  const { counted: ramp, lag, hopUncertainty } = long.found;
  const { ramps, strokes, signals, hops, counts, low, span } = ramp;
  const warnings: Warning[] = [...ramps.warnings];
  const counted = judgeStrokes(strokes, signals, counts);
  if (counted.every(({ used }) => !used)) {
    throw new NotMeasurableError(
      "no fringes",
      `Cannot count steps as none of the ${counted.length} strokes could be counted: look at the alignment and at the light that comes back`,
    );
  }
  const combined = combineStrokes(counted, feedbackOf(ramp) > 1);
  warnings.push(...combined.warnings);
  // Side by side on the same strokes.
  const compared = counts.map((count, i) =>
    combined.used[i]! && count?.others !== null
  );
  const estimators: EstimatorSteps[] = [
    {
      name: "model fit",
      steps: scatterMean(
        counts.map((count) => count?.modelSteps ?? null),
        compared,
      ),
    },
    ...otherEstimators.map((name) => ({
      name,
      steps: scatterMean(
        counts.map((count) => count?.others?.[name] ?? null),
        compared,
      ),
    })),
  ];
  const kept = counts.filter((count, i): count is StrokeCount =>
    count !== null && combined.used[i]!
  );
  const share = (test: (count: StrokeCount) => boolean) =>
    kept.filter(test).length / kept.length;
  const feedback = kept.flatMap(({ model }) =>
    model === null ? [] : [{
      value: model.feedbackParameter,
      standardUncertainty: model.feedbackUncertainty,
    }]
  );
  const current = (x: number) => low + span * (x + 1) / 2;
  const modeHops = hops.flatMap((hop) =>
    (["up", "down"] as const).flatMap((direction): ModeHop[] => {
      const at = hop[direction];
      const turns = hop.shift * combined.steps.value / 2;
      return at === null ? [] : [{
        direction,
        current: quantity(
          current(at),
          span / 2 * 0.15 / Math.abs(combined.steps.value),
          "A",
        ),
        phase: 2 * Math.PI * (turns - Math.round(turns)),
        strokes: counted.filter((stroke, i) =>
          combined.used[i] && stroke.direction === direction
        ).length,
      }];
    })
  );
  // A hop on few steps can be mistaken for some of them.
  const fewForHop = modeHops.length > 0 && combined.steps.value < 3;
  for (const hop of modeHops) {
    warnings.push(warn(
      "mode-hop",
      `The phase jumps at ${
        (1e3 * hop.current.value).toFixed(2)
      } mA on the ${hop.direction} strokes, as with a mode hop: ${
        fewForHop
          ? "there are too few steps to tell them from its jump. Ramp"
          : "the steps are counted without its jump. Better ramp"
      } where there is none`,
      fewForHop ? "doubtful" : "note",
    ));
  }
  if (lag.searched && lag.timeConstant.value > 0) {
    warnings.push(warn(
      "thermal-lag",
      `The wavelength lags behind the current, with a time constant of ${
        (1e3 * lag.timeConstant.value).toPrecision(3)
      } ms: steps are counted against the current that it has got to. Count calibration and measurement with the same 'thermalTimeConstant'`,
      "note",
    ));
  }
  if (lag.suspected > 0) {
    warnings.push(warn(
      "lag-unsettled",
      "The fringes bend as if the wavelength lagged behind the current, and no time constant describes them: ramp more slowly, or give 'thermalTimeConstant'",
    ));
  }
  const unexplained = median(
    kept.map(({ misfit, sampleNoise }) => misfit / sampleNoise),
  );
  const quality = median(kept.map((c) => c.signalToNoise));
  // On few steps a wrong count can hide behind what is left.
  // Below 0 where the wavelength falls with the current and the lean tells so.
  const count = Math.abs(combined.steps.value);
  if (
    unexplained > 3 && quality < 300 ||
    unexplained > 1.15 && quality < 1e5 && count < 8
  ) {
    warnings.push(warn(
      "unexplained-signal",
      `What is left beside the fringes is ${
        unexplained.toFixed(1)
      } times the noise from sample to sample: look for vibration, a second reflection, or clipping`,
    ));
  }
  const strong = median(feedback.map(({ value }) => value)) > 1;
  // A free waveform cannot be told from its rate on few steps, nor an edge from
  // noise that crosses the middle.
  const values = estimators
    .filter(({ name }) =>
      name !== "step edges" &&
      (name !== "waveform fit" || count > (strong ? 8 : 3))
    )
    .map(({ steps }) => steps.value)
    .filter(Number.isFinite);
  const disagreement = values.length > 0
    ? Math.max(...values) - Math.min(...values)
    : NaN;
  if (count < (strong ? 3 : 1.5)) {
    warnings.push(warn(
      "few-steps",
      `There are only ${count.toFixed(2)} steps on the ramp${
        strong ? ", and they jump" : ""
      }: the count may be wrong by more than its uncertainty. Ramp further${
        strong ? ", weaken the light that comes back," : ""
      } or go further away`,
    ));
  } else if (count < 2) {
    warnings.push(warn(
      "few-steps",
      `There are only ${
        count.toFixed(2)
      } steps on the ramp: ramp further or go further away for a better distance`,
      "note",
    ));
  }
  if (
    combined.steps.value < 8 && share(({ model }) => model !== null) < 0.5
  ) {
    warnings.push(warn(
      "no-model",
      `The fringes of a diode do not describe the signal, and ${
        combined.steps.value.toFixed(1)
      } steps are too few to count without: look for vibration, a mode hop, or a second reflection`,
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
  warnings.push(
    ...samplingWarnings(
      strokes.map(({ start, end }) =>
        monitor.samples.subarray(block * start, block * end)
      ),
      combined.steps.value,
    ),
  );
  // Past a hop the wavelength is longer by a mode spacing, some 1e-4 to 4e-4 of
  // it, and the steps per current are fewer by twice that: rectangular from none
  // to 8e-4 on the part above the hop.
  const above = modeHops.reduce(
    (most, hop) => Math.max(most, (low + span - hop.current.value) / span),
    0,
  );
  // On few steps its phase may count as steps, in full or not.
  const turns = modeHops.reduce(
    (most, { phase }) => Math.max(most, Math.abs(phase) / (2 * Math.PI)),
    0,
  );
  const byHop = Math.hypot(
    hopUncertainty,
    8e-4 / Math.sqrt(3) * above * combined.steps.value,
    fewForHop ? Math.hypot(0.5, turns) / Math.sqrt(3) : 0,
  );
  // How well the model itself is known shows on few steps alone.
  const byModel = combined.steps.value < 3 ? 1e-3 : 0;
  // One pole describes a lag to some 1e-4.
  const byLag = lag.searched && lag.timeConstant.value > 0
    ? Math.hypot(lag.stepsUncertainty, 1e-4 * combined.steps.value)
    : lag.stepsUncertainty;
  // Edges that all strokes show at the same samples are off alike.
  const byGrid = median(kept.map((count) => count.gridUncertainty)) *
    Math.max(
      ...(["up", "down"] as const).map((direction) =>
        gridCoherence(
          signals.filter((_, i) =>
            combined.used[i] && strokes[i]!.direction === direction
          ),
        )
      ),
    );
  // Where the ways of counting disagree, the truth may lie anywhere up to as far
  // off; where few fringes are not explained, up to half a step off.
  const has = (code: string) => warnings.some((w) => w.code === code);
  const byDisagreement = has("estimators-disagree")
    ? disagreement / Math.sqrt(3)
    : 0;
  const byMisfit = combined.steps.value < 8 &&
      (has("unexplained-signal") || has("no-model"))
    ? 0.5 / Math.sqrt(3)
    : 0;
  // Less than a step of fringes that jump may be a whole one.
  const byPart = strong && combined.steps.value < 1 ? 1 / Math.sqrt(3) : 0;
  const used = usedStrokes(counted, combined, block);
  const change = stepsChange(used, combined.steps.value);
  warnings.push(...change.warnings);
  const own = combined.steps.standardUncertainty;
  const total = Math.hypot(
    own,
    byPart,
    change.standardUncertainty,
    byHop,
    byGrid,
    byLag,
    byModel,
    byDisagreement,
    byMisfit,
  );
  const steps = quantity(combined.steps.value, total, "1", {
    // Welch–Satterthwaite, JCGM 100:2008, G.2b: the scatter alone is limited.
    degreesOfFreedom: combined.steps.degreesOfFreedom * (total / own) ** 4,
  });
  const result = createResult({
    kind: "range.steps" as const,
    ...rampFields(thinned, ramps, combined, steps),
    thermalTimeConstant: lag.timeConstant,
    adopted: share(({ byEdges }) => byEdges) > 0.5
      ? "step edges" as const
      : share(({ model }) => model !== null) > 0.5
      ? "model fit" as const
      : "waveform fit" as const,
    estimators,
    disagreement,
    signalToNoiseRatio: 10 *
      Math.log10(median(kept.map((count) => count.signalToNoise))),
    feedbackParameter: weightedMean(feedback, "1"),
    leanKnown: share(({ lean }) => lean !== 0) > 0.7,
    modeHops,
    warnings,
    provenance: provenance({
      method: "measureSteps",
      captures: [capture.source],
      options: {
        ...ramps.provenance.options,
        thermalTimeConstant,
        estimator,
      },
      inputs: ramps.provenance.inputs,
      sources: [
        "Beheim & Fritsch 1986",
        "Gouaux, Servagent & Bosch 1998 (from memory)",
      ],
    }),
    diagnostics: {
      strokes: used,
      traces: makeTraces(ramp, current),
      unexplained,
      signalUnit: monitor.unit,
    },
  });
  return {
    steps: result,
    told: {
      block: nextBlock(block, strokes, combined.steps.value),
      fringes: long.known,
      like: long.searched ? 0 : earlier!.like + 1,
    },
  };
}

const otherEstimators = [
  "waveform fit",
  "phase slope",
  "spectrum",
  "step edges",
] as const;
