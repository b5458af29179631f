import { type Capture, findChannel } from "../capture/mod.ts";
import {
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireRecords,
} from "../options/mod.ts";
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

/** One run of a comparison. */
export interface ComparableRun {
  /** What it is called in the figure, such as `"before"` or `"2 V"`. */
  readonly label: string;
  /** The result of the run, such as a vibration or a distance. */
  readonly result: Result;
  /** What was set for this run, in the unit of `settingUnit`. */
  readonly setting?: number;
  /** A capture or a displacement whose course is drawn over those of the others. */
  readonly course?: Result;
}

/** Options of {@linkcode compareRuns}. */
export interface CompareRunsOptions {
  /** Field of the results that is compared, such as `"amplitude"`. */
  quantity: string;
  /**
   * Relative standard uncertainty that all runs share, such as that of the
   * wavelength (1): it cancels in their differences.
   *
   * @default {0}
   */
  commonRelativeStandardUncertainty?: number | string;
  /**
   * What was set from run to run, such as `"drive"`.
   *
   * @default {"setting"}
   */
  settingName?: string;
  /**
   * Unit of the settings.
   *
   * @default {"1"}
   */
  settingUnit?: string;
}

export const compareRunsSpec = {
  quantity: optionOf.text(
    "Field of the results that is compared.",
    "amplitude",
  ),
  commonRelativeStandardUncertainty: optional(
    optionOf.relative(
      "Relative standard uncertainty that all runs share (1).",
    ),
    0,
  ),
  settingName: optional(
    optionOf.text("What was set from run to run.", "drive"),
    "setting",
  ),
  settingUnit: optional(optionOf.text("Unit of the settings.", "V"), "1"),
} satisfies Record<keyof CompareRunsOptions, Option>;

/** One run beside the first. */
export interface ComparedRun {
  /** What it is called. */
  readonly label: string;
  /** What was set; `NaN` where it was not given. */
  readonly setting: number;
  /** The value. */
  readonly value: Quantity;
  /** Value minus that of the first run; what they share cancels. */
  readonly change: Quantity;
  /** That change over its expanded uncertainty (1). */
  readonly ratio: number;
}

/** Several runs in one figure. */
export interface RunComparison extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "batch.runs";
  /** Field that is compared, in words. */
  readonly name: string;
  /** Its unit. */
  readonly unit: string;
  /** The runs in the order given. */
  readonly runs: readonly ComparedRun[];
  /** Whether any run differs from the first by more than U. */
  readonly differs: boolean;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Name and unit of what was set; `null` where no run has a setting. */
    readonly setting: { readonly name: string; readonly unit: string } | null;
    /** Courses to draw over each other. */
    readonly courses: readonly {
      readonly label: string;
      readonly name: string;
      readonly unit: string;
      readonly samplingRate: number;
      readonly samples: ArrayLike<number>;
    }[];
  };
}

const task = "compare runs";

/**
 * Compares the same quantity of several runs: before and after a change, or at
 * several settings. Each run is held against the first: the change with its
 * uncertainty, u² = Σ u_i² − (c x_i)² + (c Δx)² with the relative uncertainty c
 * that both share, and its ratio to U. One figure shows them all.
 *
 * @param runs At least 2 runs with results of one kind.
 * @param options Field to compare, what the runs share.
 * @returns Values and changes.
 * @throws {RangeError} If there are fewer than 2, or a result has no such
 * quantity.
 *
 * Source: JCGM 100:2008, F.1.2.3 (correlated inputs).
 *
 * @example
 * ```ts
 * import { measureVibration, simulateCapture } from "fringebook";
 * import { compareRuns } from "fringebook/batch";
 * import { expect } from "vitest";
 *
 * const runs = [1e-6, 1.2e-6].map((amplitude) => ({
 *   label: `${1e6 * amplitude} µm`,
 *   result: measureVibration(
 *     simulateCapture({
 *       distance: (time) => 0.1 + amplitude * Math.sin(600 * time),
 *       samplingRate: 50e3,
 *       duration: 0.05,
 *       noise: { signalToNoiseRatio: 30 },
 *       drive: null,
 *     }),
 *     { wavelength: 650e-9 },
 *   ),
 * }));
 * const { differs } = compareRuns(runs, { quantity: "amplitude" });
 * expect(differs).toBe(true);
 * ```
 */
export function compareRuns(
  runs: readonly ComparableRun[],
  options: CompareRunsOptions,
): RunComparison & Shown {
  requireRecords(runs, "runs", ["label", "result"], task);
  const read = readOptions(compareRunsSpec, options, task);
  const { commonRelativeStandardUncertainty: common } = read;
  if (runs.length < 2) {
    throw new RangeError(
      `Cannot ${task} as there are ${runs.length}: give at least 2`,
    );
  }
  const values = runs.map((run) => quantityOf(run, read.quantity));
  const first = values[0]!;
  const other = values.findIndex(({ unit }) => unit !== first.unit);
  if (other >= 0) {
    throw new RangeError(
      `Cannot ${task} as '${read.quantity}' is in ${first.unit} in run '${
        runs[0]!.label
      }' and in ${values[other]!.unit} in run '${runs[other]!.label}'`,
    );
  }
  const own = (value: Quantity) =>
    Math.max(0, value.standardUncertainty ** 2 - (common * value.value) ** 2);
  const compared = values.map((value, k): ComparedRun => {
    const difference = value.value - first.value;
    const change = quantity(
      difference,
      k === 0 ? 0 : Math.sqrt(
        own(value) + own(first) + (common * difference) ** 2,
      ),
      value.unit,
    );
    return {
      label: runs[k]!.label,
      setting: runs[k]!.setting ?? NaN,
      value,
      change,
      ratio: k === 0 ? 0 : Math.abs(difference) / change.expandedUncertainty,
    };
  });
  const warnings: Warning[] = runs.flatMap(({ label, result }) => {
    const doubtful = result.warnings.filter(({ severity }) =>
      severity === "doubtful"
    );
    return doubtful.length === 0 ? [] : [warn(
      "doubtful-run",
      `Run '${label}' is doubtful: ${doubtful[0]!.message}`,
    )];
  });
  if (common === 0 && compared.slice(1).some(({ ratio }) => ratio <= 1)) {
    warnings.push(warn(
      "nothing-shared",
      "The uncertainties of the runs are taken as independent: give what they share, such as the wavelength, as 'commonRelativeStandardUncertainty', and smaller changes show",
      "note",
    ));
  }
  return createResult<RunComparison>({
    kind: "batch.runs",
    name: inWordsOf(read.quantity),
    unit: first.unit,
    runs: compared,
    differs: compared.some(({ ratio }) => ratio > 1),
    warnings,
    provenance: provenance({
      method: "compareRuns",
      captures: runs.flatMap(({ result }) => result.provenance.captures),
      options: { ...read, labels: runs.map(({ label }) => label) },
      sources: ["JCGM 100:2008, F.1.2.3"],
    }),
    diagnostics: {
      setting: runs.every(({ setting }) => Number.isFinite(setting))
        ? { name: read.settingName, unit: read.settingUnit }
        : null,
      courses: runs.flatMap(courseOf),
    },
  });
}

function quantityOf({ label, result }: ComparableRun, name: string): Quantity {
  const fields =
    (typeof result === "object" && result !== null
      ? result
      : {}) as unknown as Record<string, unknown>;
  const found = fields[name] as Quantity | null | undefined;
  if (
    typeof found === "object" && found !== null &&
    typeof found.value === "number" &&
    typeof found.standardUncertainty === "number"
  ) return found;
  const there = Object.entries(fields)
    .filter(([, value]) =>
      typeof value === "object" && value !== null &&
      "standardUncertainty" in value && "value" in value
    ).map(([key]) => key);
  throw new RangeError(
    `Cannot ${task} as the result of run '${label}' has no quantity '${name}': it has ${
      there.join(", ") || "none"
    }`,
  );
}

/** `"peakToPeak"` becomes `"peak to peak"`. */
function inWordsOf(name: string): string {
  return name.replace(/([a-z0-9])([A-Z])/g, "$1 $2").toLowerCase();
}

function courseOf(
  { label, course }: ComparableRun,
): RunComparison["diagnostics"]["courses"][number][] {
  if (course === undefined) return [];
  if (isCaptureLike(course)) {
    const capture = course as Capture;
    const channel = findChannel(capture, "monitor signal") ??
      capture.channels[0]!;
    return [{
      label,
      name: "Monitor signal",
      unit: channel.unit,
      samplingRate: capture.samplingRate,
      samples: channel.samples,
    }];
  }
  const moved = course as Result & {
    displacement?: ArrayLike<number>;
    samplingRate?: number;
  };
  if (
    moved.displacement === undefined || !(Number(moved.samplingRate) > 0)
  ) {
    throw new TypeError(
      `Cannot ${task} as the course of run '${label}' is no capture and no displacement: pass readCapture(…) or measureDisplacement(…)`,
    );
  }
  return [{
    label,
    name: "Displacement",
    unit: "m",
    samplingRate: moved.samplingRate!,
    samples: moved.displacement,
  }];
}
