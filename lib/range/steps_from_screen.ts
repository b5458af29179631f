import {
  groupOption,
  inWords,
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
  statedDriveOptions,
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
import { wholeCountUncertainty } from "../uncertainty/mod.ts";
import type { StatedDrive } from "./ramps.ts";
import type { RampSteps } from "./steps_result.ts";

/**
 * What was counted on one flank of the ramp: the steps on the whole of it, or
 * better the edges seen, and the currents at the first and the last of them.
 */
export type ScreenStroke =
  | number
  | {
    /** Steep edges seen, the first and the last among them. */
    readonly edges: number;
    /** Current at the first of them, in A, or a text such as `"36.2mA"`. */
    readonly first: number | string;
    /** Current at the last of them, in A. */
    readonly last: number | string;
  };

/** Options of {@linkcode stepsFromScreen}. */
export interface StepsFromScreenOptions {
  /** The ramp as it was set or read: shape, frequency, lowest and highest current. */
  drive: Omit<StatedDrive, "start">;
  /**
   * Steps on a rising flank.
   *
   * @default {none, only the other flank was counted}
   */
  up?: ScreenStroke | null;
  /**
   * Steps on a falling flank.
   *
   * @default {none, only the other flank was counted}
   */
  down?: ScreenStroke | null;
  /**
   * Standard uncertainty of a count on the whole flank (1). Parts of a step that
   * are estimated by eye have about 0.1 (common practice, no source).
   *
   * @default {0.41, a whole count between two ends that stand anywhere}
   */
  countStandardUncertainty?: number | string;
  /**
   * Standard uncertainty of a current read off the screen, in A: of an edge, and
   * of each end of the ramp.
   *
   * @default {0, the value is taken as exact}
   */
  currentStandardUncertainty?: number | string;
}

const strokeSpec = {
  edges: optionOf.whole(
    "Steep edges seen, the first and the last among them.",
    { least: 2, most: 10_000 },
  ),
  first: optionOf.current("Current at the first of them, in A."),
  last: optionOf.current("Current at the last of them, in A."),
};

/** A count on one flank, as read. */
interface ReadStroke {
  readonly edges: number | null;
  /** Steps between the two currents (1). */
  readonly steps: number;
  readonly first: number;
  readonly last: number;
}

const stepsOption = optionOf.positive(
  "Steps on the whole flank (1).",
  "1",
  "4",
);
const edgesOption = groupOption("Edges and their currents.", strokeSpec);

/** A count, or edges with their currents. */
function strokeOption(doc: string): Option<ReadStroke> {
  return {
    ...stepsOption,
    doc,
    fallback: undefined,
    read: (value, name, task) => {
      if (typeof value === "object" && value !== null) {
        const { edges, first, last } = edgesOption.read(value, name, task);
        return { edges, steps: edges - 1, first, last };
      }
      if (typeof value !== "number" && typeof value !== "string") {
        throw new TypeError(
          `Cannot ${task} as '${name}' must be a number of steps, or { edges, first, last }: got ${
            inWords(value)
          }`,
        );
      }
      const steps = stepsOption.read(value, name, task);
      return { edges: null, steps, first: NaN, last: NaN };
    },
  };
}

const { shape, frequency, low, high } = statedDriveOptions;

const screenSpec = {
  drive: groupOption("The ramp as it was set or read.", {
    shape,
    frequency,
    low,
    high,
  }),
  up: optional(strokeOption("Steps on a rising flank."), null),
  down: optional(strokeOption("Steps on a falling flank."), null),
  countStandardUncertainty: optional(
    optionOf.notNegative(
      "Standard uncertainty of a count on the whole flank (1).",
      "1",
      "0.1",
    ),
    wholeCountUncertainty,
    "0.41, a whole count between two ends that stand anywhere",
  ),
  currentStandardUncertainty: optional(
    quantityOption({
      doc: "Standard uncertainty of a current read off the screen, in A.",
      unit: "A",
      least: 0,
      most: 1,
      customary: ["mA", "µA"],
      example: "0.1mA",
    }),
    0,
    "0, the value is taken as exact",
  ),
} satisfies Record<keyof StepsFromScreenOptions, Option>;

const task = "take steps from a screen";

/**
 * Steps that a person counted on a scope screen, in the form in which
 * {@linkcode measureDistance} and {@linkcode calibrateTuning} take those of a
 * capture. Two ways, on one flank or both:
 *
 * - the whole flank: N steps with u(N) = 1/√6 = 0.41, as both ends stand
 *   anywhere within a step;
 * - from edge to edge: M edges are M − 1 whole steps, over the current between
 *   the first and the last, N/ΔI = (M − 1)/(I₂ − I₁), whose uncertainty is that of
 *   two currents read, √2 u(I)/(I₂ − I₁).
 *
 * Counting more flanks of the same ramp does not help: each hides the same parts
 * of a step.
 *
 * @param options The ramp, and what was counted on its flanks.
 * @returns Steps per ramp and per A with standard uncertainty; no curves.
 * @throws {RangeError} If nothing was counted, or a number makes no sense.
 *
 * Source: JCGM 100:2008, 4.3.9 (triangular distribution).
 *
 * @example Four steps seen, and a distance from them
 * ```ts
 * import { measureDistance, stepsFromScreen } from "fringebook";
 * import { expect } from "vitest";
 *
 * const steps = stepsFromScreen({
 *   drive: { shape: "triangle", frequency: "10Hz", low: "35mA", high: "45mA" },
 *   up: { edges: 5, first: "36.2mA", last: "43.8mA" },
 *   currentStandardUncertainty: "0.07mA",
 * });
 * const { distance } = measureDistance(steps, {
 *   tuning: { tuning: "8.3pm/mA", wavelength: "650nm" },
 * });
 * // 4 steps over 7.6 mA × 8.3 pm/mA: (650 nm)² / (2 × 1.00027 × 63.08 pm) each
 * expect(distance.value).toBeCloseTo(13.392e-3, 6);
 * ```
 */
export function stepsFromScreen(
  options: StepsFromScreenOptions,
): RampSteps & Shown {
  const read = readOptions(screenSpec, options, task);
  const { drive, up, down, countStandardUncertainty: uCount } = read;
  const uCurrent = read.currentStandardUncertainty;
  const span = drive.high - drive.low;
  if (!(span > 0)) {
    throw new RangeError(
      `Cannot ${task} as 'drive.high' must be above 'drive.low': they are ${drive.high} A and ${drive.low} A`,
    );
  }
  if (up === null && down === null) {
    throw new TypeError(
      `Cannot ${task} as neither 'up' nor 'down' is given: write the steps of one flank, such as up: 4`,
    );
  }
  const flank = (stroke: ReadStroke | null, name: string) =>
    stroke && perCurrentOf(stroke, name, { ...drive, span, uCount, uCurrent });
  const flanks = [flank(up, "up"), flank(down, "down")];
  const counted = flanks.filter((each) => each !== null);
  const perCurrent = counted.reduce((sum, each) => sum + each.value, 0) /
    counted.length;
  // Flanks of one ramp hide the same parts of a step: their doubts add up.
  const uPerCurrent = counted.reduce((sum, each) => sum + each.u, 0) /
    counted.length;
  const stepsOf = (flank: FlankCount | null | undefined): Quantity | null =>
    flank ? quantity(flank.value * span, flank.u * span, "1") : null;
  const steps = quantity(perCurrent * span, uPerCurrent * span, "1");
  const notGiven = quantity(NaN, NaN, "1");
  const whole = counted.every(({ byEdges }) => !byEdges);
  return createResult({
    kind: "range.steps" as const,
    steps,
    stepsPerCurrent: quantity(perCurrent, uPerCurrent, "1/A"),
    currentDoubts: [],
    stepsUp: stepsOf(flanks[0]),
    stepsDown: stepsOf(flanks[1]),
    currentSpan: quantity(span, Math.SQRT2 * uCurrent, "A"),
    meanCurrent: (drive.low + drive.high) / 2,
    modulationFrequency: drive.frequency,
    thermalTimeConstant: quantity(0, 0, "s"),
    strokeDuration: (drive.shape === "sawtooth" ? 1 : 0.5) / drive.frequency,
    shape: drive.shape,
    adopted: "by hand" as const,
    estimators: [{ name: "by hand" as const, steps }],
    disagreement: NaN,
    signalToNoiseRatio: NaN,
    feedbackParameter: notGiven,
    leanKnown: false,
    modeHops: [],
    warnings: readingWarnings(steps, whole ? uCount : null, uCurrent),
    provenance: provenance({
      method: "stepsFromScreen",
      options: { ...read },
      sources: ["JCGM 100:2008, 4.3.9"],
    }),
    diagnostics: {
      strokes: [],
      traces: [],
      unexplained: NaN,
      signalUnit: "V",
    },
  });
}

/** What a better reading would change; `uCount` is `null` from edge to edge. */
function readingWarnings(
  { value }: Quantity,
  uCount: number | null,
  uCurrent: number,
): Warning[] {
  if (uCount === null) {
    return uCurrent > 0 ? [] : [warn(
      "reading-taken-as-exact",
      "The currents at the edges are taken as exact: give 'currentStandardUncertainty', 0.06 of a division where they are read to a tenth of one",
    )];
  }
  return uCount / value < 0.02 ? [] : [warn(
    "whole-count",
    `${value.toPrecision(3)} steps counted to ${
      uCount.toPrecision(2)
    } are sure to ${
      (100 * uCount / value).toPrecision(2)
    } %: read the currents at the first and the last edge instead, and give { edges, first, last }`,
    "note",
  )];
}

/** Steps per current of one flank, in 1/A. */
interface FlankCount {
  readonly value: number;
  readonly u: number;
  readonly byEdges: boolean;
}

function perCurrentOf(
  { edges, steps, first, last }: ReadStroke,
  name: string,
  ramp: {
    low: number;
    high: number;
    span: number;
    uCount: number;
    uCurrent: number;
  },
): FlankCount {
  const { low, high, span, uCount, uCurrent } = ramp;
  if (edges === null) {
    return {
      value: steps / span,
      u: Math.hypot(uCount, steps * Math.SQRT2 * uCurrent / span) / span,
      byEdges: false,
    };
  }
  const room = 0.02 * span + 3 * uCurrent;
  if ([first, last].some((at) => at < low - room || at > high + room)) {
    throw new RangeError(
      `Cannot ${task} as the edges of '${name}' lie at ${first} A and ${last} A, outside of the ramp from ${low} A to ${high} A`,
    );
  }
  const between = Math.abs(last - first);
  if (!(between > 0.01 * span)) {
    throw new RangeError(
      `Cannot ${task} as the first and the last edge of '${name}' lie at the same current, ${first} A: read both`,
    );
  }
  const value = steps / between;
  return {
    value,
    u: value * Math.SQRT2 * uCurrent / between,
    byEdges: true,
  };
}
