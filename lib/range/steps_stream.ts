import {
  type BlockSource,
  runBlocks,
  type StreamRunOptions,
} from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import {
  type Option,
  optional,
  pickOptions,
  quantityOption,
  readOptions,
  requireStream,
  streamRunOptions,
} from "../options/mod.ts";
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
import type { EarlierPart } from "./earlier_part.ts";
import {
  optionsAt,
  type RampPart,
  RampParts,
  type RampPartsState,
} from "./ramp_parts.ts";
import { usedStrokes } from "./ramp_fields.ts";
import {
  countSteps,
  type MeasureStepsOptions,
  type StepSettings,
  stepsSpec,
} from "./steps.ts";
import { stepsChange } from "./steps_change.ts";
import type { RampSteps, StrokeSteps } from "./steps_result.ts";

/** Options of {@linkcode measureStepsStream}. */
export interface StepsStreamOptions
  extends MeasureStepsOptions, StreamRunOptions<StepsStreamState> {
  /**
   * Periods of the ramp that are cut out and counted together.
   *
   * @default {8}
   */
  periodsPerPart?: number;
}

export const stepsStreamSpec = {
  ...stepsSpec,
  ...streamRunOptions,
  periodsPerPart: optional(
    quantityOption({
      doc: "Periods of the ramp that are cut out and counted together (1).",
      unit: "1",
      least: 2,
    }),
    8,
  ),
} satisfies Record<keyof StepsStreamOptions, Option>;

/** What {@linkcode measureStepsStream} has gathered; plain data. */
export interface StepsStreamState {
  /**
   * The ramps that are being cut.
   *
   * @internal
   */
  readonly parts: RampPartsState;
  /**
   * Steps of the parts so far.
   *
   * @internal
   */
  readonly gathered: readonly PartSteps[];
  /** Parts that could not be counted. */
  readonly failed: number;
  /**
   * What the last part told of the next; `null` for nothing.
   *
   * @internal
   */
  readonly earlier: EarlierPart | null;
}

/** What is kept of one part: a few numbers, and some bytes per stroke. */
interface PartSteps {
  readonly span: number;
  readonly spanStandardUncertainty: number;
  readonly meanCurrent: number;
  readonly modulationFrequency: number;
  readonly strokeDuration: number;
  readonly signalToNoiseRatio: number;
  readonly feedbackParameter: number | null;
  readonly leanKnown: boolean;
  /** Standard uncertainty of the steps beside that of the strokes (1). */
  readonly common: number;
  readonly estimators: readonly (number | null)[];
  /** Per stroke: start, end, 1 up or -1 down, steps, uncertainty, 1 if used. */
  readonly strokes: readonly (readonly (number | null)[])[];
  readonly warnings: readonly Warning[];
}

/** Most strokes that stand in the diagnostics. */
const mostStrokes = 4096;

/**
 * Counts the steps on the ramps of a capture of any length: parts of at least
 * eight periods are cut from it and counted as by {@linkcode measureSteps}, every
 * 64th in every way and searched for mode hops and a thermal lag, those in between
 * by the model fit alone as long as they look alike. Then the strokes of all parts
 * are combined as there (outliers left out, the two directions averaged). Memory
 * is that of one part and some bytes per stroke.
 *
 * @param source The opened capture, or another source of blocks.
 * @param options As for {@linkcode measureSteps}, with what to do on the way.
 * @returns Steps per ramp and per current, ready for `measureDistance`. Curves
 * and adopted way of counting are those of the first part; of very many strokes
 * some 4096 stand in the diagnostics, and all count.
 * @throws {NotMeasurableError} If there is no ramp or there are no fringes.
 *
 * @example
 * ```ts
 * import {
 *   measureSteps,
 *   measureStepsStream,
 *   rampCurrent,
 *   simulateCapture,
 *   streamOfCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.2,
 *   current: rampCurrent({ low: 0.038, high: 0.042, frequency: 20 }),
 *   samplingRate: 20e3,
 *   duration: 0.5,
 * });
 * const { steps } = await measureStepsStream(streamOfCapture(capture));
 * expect(steps.value).toBeCloseTo(measureSteps(capture).steps.value, 3);
 * ```
 *
 * @example The slope of the phase alone, for a record of hours
 * ```ts
 * import {
 *   measureStepsStream,
 *   rampCurrent,
 *   simulateCapture,
 *   streamOfCapture,
 * } from "fringebook";
 * import { expect } from "vitest";
 *
 * const capture = simulateCapture({
 *   distance: 0.3,
 *   current: rampCurrent({ low: 0.038, high: 0.042, frequency: 20 }),
 *   samplingRate: 20e3,
 *   duration: 0.5,
 * });
 * const { adopted } = await measureStepsStream(streamOfCapture(capture), {
 *   estimator: "phase slope",
 * });
 * expect(adopted).toBe("phase slope");
 * ```
 */
export async function measureStepsStream(
  source: BlockSource,
  options: StepsStreamOptions = {},
): Promise<RampSteps & Shown> {
  const task = "count steps";
  requireStream(source, task);
  const {
    resume,
    periodsPerPart,
    signal: _s,
    onBlock: _o,
    blockLength: _b,
    ...ranging
  } = readOptions(stepsStreamSpec, options, task);
  const gathered: PartSteps[] = [...resume?.gathered.gathered ?? []];
  let failed = resume?.gathered.failed ?? 0;
  let earlier = resume?.gathered.earlier ?? null;
  let first: RampSteps | null = null;
  let failure: NotMeasurableError | null = null;
  const measure = ({ capture, start }: RampPart): RampSteps | null => {
    try {
      const { steps, told } = countSteps(
        capture,
        optionsAt(ranging, start, capture.samplingRate),
        earlier,
      );
      earlier = told;
      first ??= steps;
      gathered.push(partSteps(steps, start));
      return steps;
    } catch (error) {
      // The rest of the last stroke is no part of its own.
      if (!(error instanceof NotMeasurableError)) throw error;
      failure ??= error;
      failed++;
      return null;
    }
  };
  // Where the ramp turns round has nothing to do with how its effect lags.
  const { thermalTimeConstant: _t, thermalFraction: _f, ...finding } = ranging;
  const parts = new RampParts(
    finding,
    periodsPerPart,
    measure,
    resume?.gathered.parts ?? null,
  );
  await runBlocks(source, {
    name: "measureStepsStream",
    push: (capture) => parts.push(capture),
    state: () => ({
      parts: parts.state(),
      gathered: [...gathered],
      failed,
      earlier,
    }),
  }, pickOptions(streamRunOptions, options));
  const before = failed;
  parts.finish();
  // What is left behind the last part may hold no whole stroke.
  if (gathered.length > 0) failed = before;
  if (gathered.length === 0) {
    throw failure ?? new NotMeasurableError(
      "no ramp",
      "Cannot count steps as the capture has no sample",
    );
  }
  return combine(gathered, failed, first, source, ranging);
}

function partSteps(steps: RampSteps, start: number): PartSteps {
  return {
    span: steps.currentSpan.value,
    spanStandardUncertainty: steps.currentSpan.standardUncertainty,
    meanCurrent: steps.meanCurrent,
    modulationFrequency: steps.modulationFrequency,
    strokeDuration: steps.strokeDuration,
    signalToNoiseRatio: steps.signalToNoiseRatio,
    feedbackParameter: steps.feedbackParameter.value,
    leanKnown: steps.leanKnown,
    common: commonPart(steps),
    estimators: steps.estimators.map(({ steps }) => steps.value),
    strokes: steps.diagnostics.strokes.map((stroke) => [
      stroke.start + start,
      stroke.end + start,
      stroke.direction === "up" ? 1 : -1,
      stroke.steps,
      stroke.standardUncertainty,
      stroke.used ? 1 : 0,
    ]),
    warnings: steps.warnings,
  };
}

/** Standard uncertainty of the steps (1) beside that of the strokes. */
function commonPart(
  { steps, diagnostics, feedbackParameter }: RampSteps,
): number {
  const { strokes } = diagnostics;
  const own = combineStrokes(strokes, feedbackParameter.value > 1).steps
    .standardUncertainty;
  return Math.sqrt(Math.max(0, steps.standardUncertainty ** 2 - own ** 2));
}

function combine(
  parts: readonly PartSteps[],
  failed: number,
  first: RampSteps | null,
  source: BlockSource,
  options: StepSettings,
): RampSteps & Shown {
  if (first === null) {
    throw new RangeError(
      "Cannot count steps as no whole ramp came after the state to resume from: resume from an earlier one",
    );
  }
  const span = mean(parts.map((part) => part.span));
  const strokes = parts.flatMap((part) =>
    part.strokes.map(([start, end, way, steps, u, used]): StrokeSteps => ({
      index: 0,
      direction: way === 1 ? "up" : "down",
      start: start!,
      end: end!,
      // Per current, all parts are alike; their own ends scatter.
      steps: (steps ?? NaN) * span / part.span,
      standardUncertainty: (u ?? NaN) * span / part.span,
      used: used === 1,
      reason: used === 1 ? null : "left out in its part",
    }))
  ).map((stroke, index) => ({ ...stroke, index }));
  const combined = combineStrokes(strokes, first.feedbackParameter.value > 1);
  // What a hop or a hidden lag may do is the same in all parts.
  const common = span * Math.sqrt(
    mean(parts.map((part) => (part.common / part.span) ** 2)),
  );
  const used = usedStrokes(strokes, combined, 1);
  const change = stepsChange(used, combined.steps.value);
  const own = combined.steps.standardUncertainty;
  const total = Math.hypot(own, common, change.standardUncertainty);
  const degreesOfFreedom = combined.steps.degreesOfFreedom *
    (total / own) ** 4;
  const steps = quantity(combined.steps.value, total, "1", {
    degreesOfFreedom,
  });
  const estimators = first.estimators.map(({ name }, k) => ({
    name,
    steps: meanQuantity(
      parts.map((part) => (part.estimators[k] ?? NaN) * span / part.span),
      "1",
    ),
  }));
  const values = estimators
    .filter(({ name }) => name !== "waveform fit" || steps.value > 8)
    .map(({ steps }) => steps.value)
    .filter(Number.isFinite);
  const thin = Math.ceil(strokes.length / mostStrokes);
  return createResult<RampSteps>({
    ...first,
    steps,
    stepsPerCurrent: quantity(
      steps.value / span,
      steps.standardUncertainty / span,
      "1/A",
      { degreesOfFreedom },
    ),
    stepsUp: combined.up?.steps ?? null,
    stepsDown: combined.down?.steps ?? null,
    currentSpan: quantity(
      span,
      Math.sqrt(
        mean(parts.map((part) => part.spanStandardUncertainty ** 2)) /
          parts.length,
      ),
      "A",
    ),
    meanCurrent: mean(parts.map((part) => part.meanCurrent)),
    modulationFrequency: mean(parts.map((part) => part.modulationFrequency)),
    strokeDuration: mean(parts.map((part) => part.strokeDuration)),
    estimators,
    disagreement: values.length > 1
      ? Math.max(...values) - Math.min(...values)
      : NaN,
    signalToNoiseRatio: mean(parts.map((part) => part.signalToNoiseRatio)),
    feedbackParameter: meanQuantity(
      parts.map((part) => part.feedbackParameter ?? NaN),
      "1",
    ),
    leanKnown: parts.filter((part) =>
      part.leanKnown
    ).length > 0.7 * parts.length,
    warnings: [
      ...source.warnings.filter(({ severity }) => severity === "doubtful"),
      ...mergedWarnings(parts, failed),
      ...change.warnings,
    ],
    provenance: provenance({
      method: "measureStepsStream",
      captures: first.provenance.captures,
      options: { ...options },
      inputs: first?.provenance.inputs ?? [],
      sources: first.provenance.sources,
    }),
    diagnostics: {
      ...first.diagnostics,
      strokes: used.filter((_, k) => k % thin === 0),
    },
  });
}

/** One warning per code, with the number of parts that have it. */
function mergedWarnings(
  parts: readonly PartSteps[],
  failed: number,
): Warning[] {
  const found = new Map<string, { warning: Warning; count: number }>();
  for (const { warnings } of parts) {
    for (const code of new Set(warnings.map((warning) => warning.code))) {
      const entry = found.get(code);
      if (entry !== undefined) entry.count++;
      else {
        const warning = warnings.find((one) => one.code === code)!;
        found.set(code, { warning, count: 1 });
      }
    }
  }
  const merged = [...found.values()].map(({ warning, count }) =>
    parts.length === 1 ? warning : warn(
      warning.code,
      `In ${count} of ${parts.length} parts: ${warning.message}`,
      // One tap in a long record is no reason to doubt all of it.
      count > 0.05 * parts.length ? warning.severity : "note",
    )
  );
  if (failed > 0) {
    merged.push(warn(
      "parts-without-steps",
      `In ${failed} parts of the capture no steps could be counted; they are left out`,
      failed > 0.1 * parts.length ? "doubtful" : "note",
    ));
  }
  return merged;
}

function mean(values: readonly number[]): number {
  const known = values.filter(Number.isFinite);
  return known.reduce((sum, value) => sum + value, 0) / known.length;
}

/** Mean of the parts with its standard deviation. */
function meanQuantity(values: readonly number[], unit: string): Quantity {
  const known = values.filter(Number.isFinite);
  const n = known.length;
  if (n === 0) return quantity(NaN, NaN, unit);
  const centre = mean(known);
  const squares = known.reduce((sum, value) => sum + (value - centre) ** 2, 0);
  return n === 1
    ? quantity(centre, NaN, unit)
    : quantity(centre, Math.sqrt(squares / (n - 1) / n), unit, {
      degreesOfFreedom: n - 1,
    });
}
