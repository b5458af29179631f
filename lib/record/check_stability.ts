import { fitLine, type LineFit, studentProbability } from "../fit/mod.ts";
import {
  measuredOption,
  type Option,
  optional,
  optionOf,
  quantityOption,
  readOptions,
  requireRecords,
} from "../options/mod.ts";
import {
  createResult,
  inDigits,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
  warn,
  type Warning,
} from "../result/mod.ts";
import { type ChartSignal, chartSignals, ruleInWords } from "./chart_rules.ts";

/** One value of a check that is repeated over days. */
export interface StabilityPoint {
  /** When: a date, or a text of ISO 8601. */
  readonly time: string | Date;
  /** The value, in the unit of the chart. */
  readonly value: number;
  /** Its standard uncertainty, in the same unit; left out where not known. */
  readonly standardUncertainty?: number;
}

/** Options of {@linkcode checkStability}. */
export interface CheckStabilityOptions {
  /**
   * Unit of the values.
   *
   * @default {"m"}
   */
  unit?: string;
  /**
   * Points at the beginning from which centre and limits come (1).
   *
   * @default {the first 20, or all where there are fewer}
   */
  baseline?: number;
  /**
   * The known value of what is checked, with its standard uncertainty, in the unit
   * of the values.
   *
   * @default {null}
   */
  reference?: number | {
    readonly value: number;
    readonly standardUncertainty?: number;
  } | null;
}

export const checkStabilitySpec = {
  unit: optional(optionOf.text("Unit of the values.", "m"), "m"),
  baseline: optional(
    optionOf.whole("Points at the beginning from which the limits come (1).", {
      least: 4,
    }),
    undefined,
    "the first 20, or all where there are fewer",
  ),
  reference: optional(
    measuredOption(quantityOption({
      doc: "The known value of what is checked.",
      unit: "",
      example: "0.12",
    })),
    null,
  ),
} satisfies Record<keyof CheckStabilityOptions, Option>;

/** A control chart of a check value over days. */
export interface Stability extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "record.stability";
  /** Unit of the values. */
  readonly unit: string;
  /** Whether the check is in control: no rule of the chart is broken. */
  readonly inControl: boolean;
  /** Mean of the baseline, in `unit`. */
  readonly centre: Quantity;
  /** Standard deviation from the mean moving range, MR/1.128, in `unit`. */
  readonly deviation: number;
  /** Centre + 3 deviations, in `unit`. */
  readonly upperLimit: number;
  /** Centre - 3 deviations, in `unit`. */
  readonly lowerLimit: number;
  /** Mean moving range of the baseline, in `unit`. */
  readonly meanMovingRange: number;
  /** Upper limit of a moving range, 3.267 times its mean, in `unit`. */
  readonly movingRangeLimit: number;
  /** Rules that were broken, in order of time. */
  readonly signals: readonly ChartSignal[];
  /** Slope of a straight line through all points, per day. */
  readonly drift: Quantity;
  /** Probability of a slope this large by chance (1). */
  readonly driftProbability: number;
  /** Mean of all points minus the reference, in `unit`; `null` without one. */
  readonly bias: Quantity | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The points in order of time: days since the first, value, its u. */
    readonly points: readonly {
      readonly time: string;
      readonly day: number;
      readonly value: number;
      readonly standardUncertainty: number;
    }[];
    /** Moving ranges, from the second point on, in `unit`. */
    readonly movingRanges: readonly number[];
    /** Points of the baseline (1). */
    readonly baseline: number;
    /** The straight line through all points. */
    readonly line: LineFit;
    /** The reference, or `null`. */
    readonly reference: {
      readonly value: number;
      readonly standardUncertainty: number;
    } | null;
  };
}

const task = "check stability";
/** Expected range of two values of a normal distribution, in deviations. */
const d2 = 1.128;
/** Upper limit of a moving range over its mean, 1 + 3 × 0.853/1.128. */
const d4 = 3.267;
const millisecondsPerDay = 86_400_000;

/**
 * Checks a value that is measured again and again, such as the distance of a fixed
 * card each morning: a chart of individual values and moving ranges (Shewhart).
 * Deviation = mean moving range/1.128, limits = centre ± 3 deviations, moving
 * ranges up to 3.267 times their mean. Four rules ask for attention: a point
 * beyond 3 deviations; two of three beyond 2 on one side; four of five beyond 1 on
 * one side; eight in a row on one side. All four together give a false alarm in
 * some 92 points of a check that is in control.
 *
 * @param points At least 4 values with their times.
 * @param options Unit, points of the baseline, the known value.
 * @returns Limits, signals, drift per day, difference from the reference.
 * @throws {RangeError} If there are fewer than 4 points, or a time is none.
 *
 * Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2 and 6.3.2.2;
 * ISO 7870-2:2023 (from memory); Champ and Woodall 1987 (from memory).
 *
 * @example
 * ```ts
 * import { checkStability } from "fringebook";
 * import { expect } from "vitest";
 *
 * // NIST/SEMATECH e-Handbook, 6.3.2.2: flow rates.
 * const values = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
 * const chart = checkStability(
 *   values.map((value, k) => ({
 *     time: new Date(Date.UTC(2026, 10, k + 1)),
 *     value,
 *   })),
 *   { unit: "1" },
 * );
 * expect(chart.upperLimit).toBeCloseTo(55.8041, 3);
 * expect(chart.lowerLimit).toBeCloseTo(45.8159, 3);
 * ```
 */
export function checkStability(
  points: readonly StabilityPoint[],
  options: CheckStabilityOptions = {},
): Stability & Shown {
  requireRecords(points, "points", ["time", "value"], task);
  const read = readOptions(checkStabilitySpec, options, task);
  const { unit, reference } = read;
  const sorted = inOrder(points);
  const count = sorted.length;
  if (count < 4) {
    throw new RangeError(
      `Cannot ${task} from ${count} points: take at least 4, better 20 or more`,
    );
  }
  const { baseline = Math.min(20, count) } = read;
  if (baseline > count) {
    throw new RangeError(
      `Cannot ${task} as 'baseline' must be at most the ${count} points: current value is ${baseline}`,
    );
  }
  const values = sorted.map(({ value }) => value);
  const ranges = values.slice(1).map((value, k) =>
    Math.abs(value - values[k]!)
  );
  const base = values.slice(0, baseline);
  const centre = meanOf(base);
  const meanRange = meanOf(ranges.slice(0, baseline - 1));
  const deviation = meanRange / d2;
  if (!(deviation > 0)) {
    throw new RangeError(
      `Cannot ${task} as the first ${baseline} values are all ${centre} ${unit}: note them with more digits`,
    );
  }
  const signals = chartSignals(values, centre, deviation);
  ranges.forEach((range, k) => {
    if (range > d4 * meanRange) signals.push({ index: k + 1, rule: "jump" });
  });
  signals.sort((a, b) => a.index - b.index);
  const days = sorted.map(({ day }) => day);
  const line = fitLine(days, values, { unitX: "d", unitY: unit });
  const chance = slopeProbability(line);
  const mean = meanOf(values);
  const bias = reference === null ? null : quantity(
    mean - reference.value,
    Math.hypot(
      spreadOf(values) / Math.sqrt(count),
      reference.standardUncertainty,
    ),
    unit,
  );
  return createResult<Stability>({
    kind: "record.stability",
    unit,
    inControl: signals.length === 0,
    centre: quantity(centre, deviation / Math.sqrt(baseline), unit, {
      degreesOfFreedom: baseline - 1,
    }),
    deviation,
    upperLimit: centre + 3 * deviation,
    lowerLimit: centre - 3 * deviation,
    meanMovingRange: meanRange,
    movingRangeLimit: d4 * meanRange,
    signals,
    drift: quantity(
      line.slope.value,
      line.slope.standardUncertainty,
      unit === "1" ? "1/d" : `${unit}/d`,
      { degreesOfFreedom: line.degreesOfFreedom },
    ),
    driftProbability: chance,
    bias,
    warnings: warningsOf({
      sorted,
      deviation,
      signals,
      chance,
      line,
      unit,
      bias,
    }),
    provenance: provenance({
      method: "checkStability",
      options: { unit, baseline, reference },
      sources: [
        "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2",
        "ISO 7870-2:2023 (from memory)",
        "Champ and Woodall 1987 (from memory)",
      ],
    }),
    diagnostics: {
      points: sorted,
      movingRanges: ranges,
      baseline,
      line,
      reference,
    },
  });
}

type SortedPoint = Stability["diagnostics"]["points"][number];

function inOrder(points: readonly StabilityPoint[]): SortedPoint[] {
  const read = points.map(({ time, value, standardUncertainty = NaN }, k) => {
    const at = time instanceof Date
      ? time.getTime()
      : typeof time === "string"
      ? Date.parse(time)
      : NaN;
    if (!Number.isFinite(at) || !Number.isFinite(value)) {
      throw new RangeError(
        `Cannot ${task} as point ${
          k + 1
        } needs a time such as "2026-11-25" and a number: it has ${
          typeof time === "string"
            ? JSON.stringify(time.slice(0, 40))
            : "a time"
        } and ${value}`,
      );
    }
    return { at, value, standardUncertainty };
  }).sort((a, b) => a.at - b.at);
  const first = read[0]?.at ?? 0;
  return read.map(({ at, ...point }) => ({
    time: new Date(at).toISOString(),
    day: (at - first) / millisecondsPerDay,
    ...point,
  }));
}

/** Probability of a slope this large without one. */
function slopeProbability({ slope, degreesOfFreedom }: LineFit): number {
  const t = Math.abs(slope.value) / slope.standardUncertainty;
  return Number.isFinite(t)
    ? 2 * (1 - studentProbability(t, degreesOfFreedom))
    : NaN;
}

function warningsOf({ sorted, deviation, signals, chance, line, unit, bias }: {
  sorted: readonly SortedPoint[];
  deviation: number;
  signals: readonly ChartSignal[];
  chance: number;
  line: LineFit;
  unit: string;
  bias: Quantity | null;
}): Warning[] {
  const warnings: Warning[] = [];
  if (signals.length > 0) {
    const { index, rule } = signals[0]!;
    warnings.push(warn(
      "out-of-control",
      `The check is out of control from ${
        sorted[index]!.time.slice(0, 10)
      } on: ${
        ruleInWords[rule]
      }. Look for what changed on that day, and do not use what was measured since without it`,
    ));
  }
  if (chance < 0.01) {
    warnings.push(warn(
      "drifts",
      `The values drift by ${
        line.slope.value.toExponential(1)
      } ${unit} per day (probability ${chance.toPrecision(1)} without a drift)`,
    ));
  }
  if (sorted.length < 20) {
    warnings.push(warn(
      "few-points",
      `The limits come from ${sorted.length} points and are themselves uncertain by some ${
        inDigits(75 / Math.sqrt(sorted.length - 1), 2)
      } %: 20 and more make a chart`,
      "note",
    ));
  }
  const stated = sorted.map(({ standardUncertainty }) => standardUncertainty)
    .filter((u) => u > 0);
  if (stated.length === sorted.length) {
    const u = Math.sqrt(meanOf(stated.map((each) => each ** 2)));
    if (deviation > 2 * u) {
      warnings.push(warn(
        "scatter-exceeds-uncertainty",
        `From one day to the next the values scatter ${
          inDigits(deviation / u, 2)
        } times as much as their standard uncertainties of ${
          u.toPrecision(2)
        } ${unit}: something in the budget is missing`,
      ));
    }
  }
  if (bias !== null && Math.abs(bias.value) > bias.expandedUncertainty) {
    warnings.push(warn(
      "bias",
      `On average the check is off its known value by ${
        inDigits(Math.abs(bias.value) / bias.standardUncertainty, 2)
      } standard uncertainties`,
    ));
  }
  return warnings;
}

function meanOf(values: readonly number[]): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}

function spreadOf(values: readonly number[]): number {
  const mean = meanOf(values);
  const squares = values.reduce((sum, value) => sum + (value - mean) ** 2, 0);
  return Math.sqrt(squares / (values.length - 1));
}
