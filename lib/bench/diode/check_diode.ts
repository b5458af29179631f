import type { Capture } from "../../capture/mod.ts";
import { fitLine, type LineFit } from "../../fit/mod.ts";
import {
  benchOptions,
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireForm,
} from "../../options/mod.ts";
import {
  createResult,
  provenance,
  type Quantity,
  quantity,
  type Result,
  type Shown,
} from "../../result/mod.ts";
import { diodeWarnings } from "./diode_warnings.ts";
import { type CurrentBand, findKinks, freeSpans, type Kink } from "./kinks.ts";
import { localFit, median } from "./local_fit.ts";
import {
  type DiodeFinding,
  type DiodeState,
  findMissingMonitor,
  findNoThreshold,
  findRegulation,
  findReversedLeads,
} from "./recognise_diode.ts";
import {
  arrange,
  type LightCurrentSweep,
  sweepFromCapture,
  type SweepFromCaptureOptions,
  sweepSpec,
} from "./sweep.ts";
import {
  curvatureWidth,
  findBreak,
  fitTwoSegments,
  guardOf,
  secondDerivativeThreshold,
  type TwoSegmentFit,
} from "./threshold.ts";

/** Options of {@linkcode checkDiode}. */
export interface CheckDiodeOptions extends SweepFromCaptureOptions {
  /**
   * Relative standard uncertainty of the transimpedance (1).
   *
   * @default {0.006}
   */
  transimpedanceRelativeStandardUncertainty?: number | string;
  /**
   * Relative standard uncertainty of the scale of the drive current (1).
   *
   * @default {0.005}
   */
  currentRelativeStandardUncertainty?: number | string;
  /**
   * Relative standard uncertainty of the scale of the power meter (1).
   *
   * @default {0.05}
   */
  powerRelativeStandardUncertainty?: number | string;
  /**
   * Greatest current by the label, in A.
   *
   * @default {null}
   */
  ratedCurrent?: number | string | null;
  /**
   * Vacuum wavelength, in m, for the differential quantum efficiency.
   *
   * @default {null}
   */
  wavelength?: number | string | null;
  /**
   * How much the slope may change before it counts as a kink (1).
   *
   * @default {0.15}
   */
  kinkTolerance?: number | string;
}

export const checkDiodeSpec = {
  ...sweepSpec,
  transimpedanceRelativeStandardUncertainty: optional(
    optionOf.relative(
      "Relative standard uncertainty of the transimpedance (1).",
    ),
    0.006,
  ),
  currentRelativeStandardUncertainty: optional(
    optionOf.relative("Relative standard uncertainty of the ammeter (1)."),
    0.005,
  ),
  powerRelativeStandardUncertainty: optional(
    optionOf.relative("Relative standard uncertainty of the power meter (1)."),
    0.05,
  ),
  ratedCurrent: optional(
    optionOf.current("Greatest current that the diode may have, in A."),
    null,
  ),
  wavelength: optional(benchOptions.wavelength, null),
  kinkTolerance: optional(
    optionOf.relative("Change of the slope that counts as a kink (1)."),
    0.15,
  ),
} satisfies Record<keyof CheckDiodeOptions, Option>;

/** Where to run a diode. */
export interface OperatingPoint {
  /** Middle of the ramp, in A. */
  readonly current: number;
  /** Ends of the ramp: no kink and no threshold between them, in A. */
  readonly ramp: CurrentBand;
  /** Monitor current in the middle, in A; `NaN` without a monitor. */
  readonly monitorCurrent: number;
  /** Light power in the middle, in W; `NaN` without a power meter. */
  readonly power: number;
}

/** What a light-current sweep says of a diode. */
export interface DiodeCheck extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.diode";
  /** What the sweep shows. */
  readonly state: DiodeState;
  /** The same in words, and what to do. */
  readonly finding: string;
  /** Threshold where the two lines meet, in A. */
  readonly thresholdCurrent: Quantity;
  /** Threshold at the greatest second derivative, in A. */
  readonly thresholdBySecondDerivative: Quantity;
  /** dP/dI above threshold, in W/A; `NaN` without a power meter. */
  readonly slopeEfficiency: Quantity;
  /** Photons per electron above threshold (1); `NaN` without wavelength. */
  readonly differentialEfficiency: Quantity;
  /** Monitor current per drive current above threshold, in A/A (1). */
  readonly monitorSlope: Quantity;
  /** Monitor current per light power, in A/W; `NaN` without a power meter. */
  readonly monitorResponsivity: Quantity;
  /** Ranges of current to keep away from, in A. */
  readonly excludedBands: readonly Kink[];
  /** Where to run it; `null` where the diode cannot be used. */
  readonly operatingPoint: OperatingPoint | null;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The sweep, in order of current. */
    readonly sweep: LightCurrentSweep;
    /** What the threshold was found in. */
    readonly signal: "power" | "monitor";
    /** First derivative of that signal at each current, per A. */
    readonly slope: Float64Array;
    /** Second derivative of that signal at each current, per A². */
    readonly curvature: Float64Array;
    /** The two lines; `null` where there is no threshold. */
    readonly lines: {
      readonly below: LineFit;
      readonly above: LineFit;
      /** Currents that each was fitted to, in A. */
      readonly ranges: readonly [CurrentBand, CurrentBand];
    } | null;
  };
}

const unknown = (unit: string) => quantity(NaN, NaN, unit);

/** h c / e, in V m. */
const voltMetres = 6.62607015e-34 * 299_792_458 / 1.602176634e-19;

/**
 * Checks a laser diode by its light-current sweep: threshold by two lines and by
 * the second derivative, slope efficiency, monitor responsivity, kinks, and a
 * range of current for ramps. Says in words when there is no monitor signal,
 * when a driver inside regulates the light, and when leads are reversed.
 *
 * @param sweep A capture of the sweep, or its points.
 * @param options Gains and their uncertainties, rated current, wavelength.
 * @returns The check.
 * @throws {NotMeasurableError} If the sweep has no current, no light signal or
 * fewer than 12 points.
 *
 * Source: two-line and second-derivative threshold are the usual practice of
 * diode testing (common practice, no source); differential efficiency
 * (dP/dI) eλ/(hc).
 *
 * @example
 * ```ts
 * import { checkDiode, loadDataset } from "fringebook";
 * import { expect } from "vitest";
 *
 * const check = checkDiode(await loadDataset("light-current-25c"));
 * expect(check.state).toBe("laser diode with monitor");
 * expect(check.thresholdCurrent.value).toBeCloseTo(0.0242, 4);
 * ```
 */
export function checkDiode(
  sweep: Capture | LightCurrentSweep,
  options: CheckDiodeOptions = {},
): DiodeCheck & Shown {
  const task = "check a diode";
  requireForm(sweep, {
    what: "a capture or a sweep",
    is: (value) =>
      isCaptureLike(value) ||
      typeof value === "object" && value !== null && "current" in value &&
        "monitor" in value && "power" in value,
    remedy: "readCapture(…) reads a capture from a file",
    awaited: "await readCapture(…)",
  }, task);
  const read = readOptions(checkDiodeSpec, options, task);
  const {
    transimpedance,
    currentPerVolt,
    mostPoints,
    transimpedanceRelativeStandardUncertainty,
    currentRelativeStandardUncertainty,
    powerRelativeStandardUncertainty,
    ratedCurrent,
    wavelength,
    kinkTolerance,
  } = read;
  const points = "channels" in sweep
    ? sweepFromCapture(sweep, { transimpedance, currentPerVolt, mostPoints })
    : arrange(sweep, mostPoints);
  const x = points.current;
  const signal = points.power !== null ? "power" : "monitor";
  const y = (points.power ?? points.monitor)!;
  const found = findBreak(x, y);
  const fault = findFault(points, x, y, found);
  const stops = fault !== null &&
    fault.state !== "laser diode without monitor signal" &&
    !(fault.state === "reversed photodiode" && signal === "power");
  const fit = stops ? null : fitLasing(x, y, found, kinkTolerance);
  const lines = fit?.lines ?? null;
  const scaled = (value: Quantity | undefined, by: number, unit: string) =>
    value === undefined ? unknown(unit) : quantity(
      value.value,
      Math.hypot(value.standardUncertainty, value.value * by),
      unit,
      { degreesOfFreedom: value.degreesOfFreedom },
    );
  const upper = lines?.ranges[1] ?? null;
  const monitorWorks = points.monitor !== null && upper !== null &&
    fault === null;
  const slopeEfficiency = scaled(
    signal === "power" ? lines?.above.slope : undefined,
    Math.hypot(
      powerRelativeStandardUncertainty,
      currentRelativeStandardUncertainty,
    ),
    "W/A",
  );
  const perPhoton = wavelength === null ? NaN : wavelength / voltMetres;
  const warnings = diodeWarnings(fault, fit, points, ratedCurrent);
  return createResult<DiodeCheck>({
    kind: "bench.diode",
    state: fault?.state ?? "laser diode with monitor",
    finding: fault?.sentence ??
      (points.monitor === null
        ? "The diode lases; the sweep has no monitor channel"
        : "The diode lases and its monitor photodiode follows the light"),
    thresholdCurrent: scaled(
      lines?.threshold,
      currentRelativeStandardUncertainty,
      "A",
    ),
    thresholdBySecondDerivative: scaled(
      lines === null
        ? undefined
        : secondDerivativeThreshold(x, y, lines.threshold.value),
      currentRelativeStandardUncertainty,
      "A",
    ),
    slopeEfficiency,
    differentialEfficiency: quantity(
      slopeEfficiency.value * perPhoton,
      slopeEfficiency.standardUncertainty * perPhoton,
      "1",
    ),
    monitorSlope: scaled(
      monitorWorks ? lineWithin(x, points.monitor!, upper).slope : undefined,
      Math.hypot(
        transimpedanceRelativeStandardUncertainty,
        currentRelativeStandardUncertainty,
      ),
      "1",
    ),
    monitorResponsivity: scaled(
      monitorWorks && points.power !== null
        ? responsivity(points, upper)
        : undefined,
      Math.hypot(
        transimpedanceRelativeStandardUncertainty,
        powerRelativeStandardUncertainty,
      ),
      "A/W",
    ),
    excludedBands: fit?.kinks ?? [],
    operatingPoint: lines === null
      ? null
      : findOperatingPoint(points, lines.threshold.value, fit!.kinks, {
        ratedCurrent,
      }),
    warnings,
    provenance: provenance({
      method: "checkDiode",
      captures: "channels" in sweep ? [sweep.source] : [],
      options: { ...read },
      sources: ["common practice, no source"],
    }),
    diagnostics: {
      sweep: points,
      signal,
      ...derivatives(x, y, lines?.threshold.value ?? x.at(-1)! / 2),
      lines: lines === null ? null : {
        below: lines.below,
        above: lines.above,
        ranges: lines.ranges,
      },
    },
  });
}

function findFault(
  points: LightCurrentSweep,
  x: Float64Array,
  y: Float64Array,
  found: ReturnType<typeof findBreak>,
): DiodeFinding | null {
  const reversed = findReversedLeads(points);
  if (reversed !== null) return reversed;
  if (points.power === null) {
    const missing = findMissingMonitor(points.monitor!, false);
    if (missing !== null) return missing;
  }
  const other = findRegulation(x, y) ?? findNoThreshold(found, x, y);
  if (other !== null) return other;
  return points.monitor === null || points.power === null
    ? null
    : findMissingMonitor(points.monitor, true);
}

/** Threshold and kinks, each with what the other says. */
function fitLasing(
  x: Float64Array,
  y: Float64Array,
  found: ReturnType<typeof findBreak>,
  tolerance: number,
): { lines: TwoSegmentFit | null; kinks: Kink[] } {
  const end = x.at(-1)!;
  let near = found.current;
  let kinks: Kink[] = [];
  let lines: TwoSegmentFit | null = null;
  for (let round = 0; round < 3; round++) {
    const low = near + guardOf(x, near);
    const width = curvatureWidth(x, near);
    const slopes = Array.from(x)
      .filter((at) => at > low && at < end - width / 2)
      .map((at) => localFit(x, y, at, width).slope);
    kinks = findKinks(x, y, { low, high: end }, median(slopes), tolerance);
    const spans = freeSpans({ low, high: end }, kinks);
    const first = spans[0];
    // A kink right above threshold would leave no line: then all is used.
    const top = first !== undefined &&
        first.high - first.low > 0.25 * (end - low)
      ? first.high
      : end;
    lines = fitTwoSegments(x, y, near, top);
    if (lines === null) break;
    near = lines.threshold.value;
  }
  return { lines, kinks };
}

function lineWithin(
  x: Float64Array,
  y: Float64Array,
  { low, high }: CurrentBand,
): LineFit {
  const inside = Array.from(x.keys()).filter((i) =>
    x[i]! >= low && x[i]! <= high
  );
  return fitLine(inside.map((i) => x[i]!), inside.map((i) => y[i]!));
}

function responsivity(
  { current, monitor, power }: LightCurrentSweep,
  { low, high }: CurrentBand,
): Quantity {
  const inside = Array.from(current.keys()).filter((i) =>
    current[i]! >= low && current[i]! <= high
  );
  return fitLine(
    inside.map((i) => power![i]!),
    inside.map((i) => monitor![i]!),
  ).slope;
}

/** The widest ramp without kinks from 1.1 I_th to 0.9 of the greatest current. */
function findOperatingPoint(
  points: LightCurrentSweep,
  threshold: number,
  kinks: readonly Kink[],
  { ratedCurrent }: { ratedCurrent: number | null },
): OperatingPoint | null {
  const { current, monitor, power } = points;
  const greatest = Math.min(
    current.at(-1)!,
    ratedCurrent === null ? Infinity : 0.9 * ratedCurrent,
  );
  const range = { low: 1.1 * threshold, high: greatest };
  const [widest] = freeSpans(range, kinks).sort((a, b) =>
    (b.high - b.low) - (a.high - a.low)
  );
  if (widest === undefined || range.high <= range.low) return null;
  const middle = (widest.low + widest.high) / 2;
  const width = Math.max((widest.high - widest.low) / 4, 1e-6);
  const at = (column: Float64Array | null) =>
    column === null ? NaN : localFit(current, column, middle, width).value;
  return {
    current: middle,
    ramp: widest,
    monitorCurrent: at(monitor),
    power: at(power),
  };
}

function derivatives(x: Float64Array, y: Float64Array, near: number) {
  const width = curvatureWidth(x, near);
  const fits = Array.from(x, (at) => localFit(x, y, at, width));
  return {
    slope: Float64Array.from(fits, ({ slope }) => slope),
    curvature: Float64Array.from(fits, ({ curvature }) => curvature),
  };
}
