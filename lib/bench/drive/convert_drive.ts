import { copyOf } from "../../memory/mod.ts";
import { extremesOf } from "../../order/mod.ts";
import { checkpoint } from "../../progress/mod.ts";
import {
  type Capture,
  type ChannelDoubt,
  createCapture,
  findChannel,
  requireChannel,
} from "../../capture/mod.ts";
import { NotMeasurableError } from "../../errors/mod.ts";
import {
  benchOptions,
  handedOption,
  inputsOf,
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireCapture,
} from "../../options/mod.ts";
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
} from "../../result/mod.ts";
import {
  type CurrentAtVoltage,
  currentCurve,
  type DrawnCurrent,
} from "./current_curve.ts";
import { curveDoubts } from "./curve_doubts.ts";
import { behindCapacitor, findCorner } from "./drive_coupling.ts";

/** Options of {@linkcode convertDrive}. */
export interface ConvertDriveOptions {
  /**
   * Current against voltage, for a drive by constant voltage: at least 5 points,
   * or a capture of a slow sweep with a drive voltage and a drive current.
   *
   * @default {null}
   */
  curve?: readonly CurrentAtVoltage[] | Capture | null;
  /**
   * Current per voltage, in A/V, where a resistor makes the current.
   *
   * @default {null}
   */
  currentPerVoltage?: number | string | null;
  /**
   * Current at a drive voltage of 0, in A: behind a capacitor, the operating
   * current.
   *
   * @default {0}
   */
  currentOffset?: number | string;
  /**
   * Corner of the capacitor through which the modulation reaches the diode, in Hz;
   * `"find"` finds it from the power in the monitor signal; `null` for a drive
   * that is coupled with DC.
   *
   * @default {null}
   */
  couplingCorner?: number | string | null;
  /**
   * Standard uncertainty of a corner that is given, in Hz.
   *
   * @default {0}
   */
  couplingCornerStandardUncertainty?: number | string;
  /**
   * Relative standard uncertainty of the scale of the recorded voltage against
   * that of the curve (1); nothing where one instrument recorded both.
   *
   * @default {0}
   */
  voltageScaleRelativeStandardUncertainty?: number | string;
}

export const convertDriveSpec = {
  curve: optional(
    handedOption<readonly CurrentAtVoltage[] | Capture>(
      "Current against voltage, for a drive by constant voltage.",
      "a list of { voltage, current }, or a capture with both",
      (value) => Array.isArray(value) || isCaptureLike(value),
    ),
    null,
  ),
  currentPerVoltage: benchOptions.currentPerVoltage,
  currentOffset: benchOptions.currentOffset,
  couplingCorner: {
    ...optional(
      optionOf.frequency(
        "Corner of the capacitor through which the modulation reaches the diode, in Hz.",
        "16Hz",
      ),
      null,
      "none, coupled with DC",
    ),
    read: (value: unknown, name: string, task: string) =>
      value === "find" || value === null
        ? value
        : optionOf.frequency("", "16Hz").read(value, name, task),
  },
  couplingCornerStandardUncertainty: optional(
    optionOf.notNegative(
      "Standard uncertainty of a corner that is given, in Hz.",
      "Hz",
      "0.5Hz",
    ),
    0,
    "0, the value is taken as exact",
  ),
  voltageScaleRelativeStandardUncertainty: optional(
    optionOf.relative(
      "Relative standard uncertainty of the scale of the recorded voltage against that of the curve (1).",
    ),
    0,
    "0, the value is taken as exact",
  ),
} satisfies Record<keyof ConvertDriveOptions, Option>;

/** A drive in volts turned into the current of the diode. */
export interface ConvertedDrive extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "bench.drive";
  /** The capture with a drive current instead of the drive voltage. */
  readonly capture: Capture & Shown;
  /** Corner of the capacitor, in Hz; `null` without one. */
  readonly couplingCorner: Quantity | null;
  /** Lead of the current before the voltage at the drive's frequency, in rad. */
  readonly phase: Quantity | null;
  /** Part of the drive's fundamental that gets through the capacitor (1). */
  readonly transmission: number;
  /** Frequency of the drive, in Hz; `NaN` where it does not repeat. */
  readonly frequency: number;
  /** Lowest and highest current, in A. */
  readonly currentRange: { readonly low: number; readonly high: number };
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** The drive voltage as recorded, in V. */
    readonly voltage: Float64Array;
    /** The current that was made of it, in A. */
    readonly current: Float64Array;
    /** Samples per second, in Hz. */
    readonly samplingRate: number;
    /** The points of the curve; empty without one. */
    readonly curve: readonly CurrentAtVoltage[];
  };
}

const task = "convert a drive";
const work = "convert the drive";
const stride = 0x1ffff;

/**
 * Turns a recorded drive voltage into the current of the diode, for everything
 * that counts steps against current. By a curve of current against voltage, where
 * the diode hangs on a constant voltage: an exponential with a series resistance,
 * far from a straight line. Or by a current per voltage, where a resistor makes
 * the current. And behind a capacitor, with its first-order corner f_c: the current
 * leads by arctan(f_c/f) and is f/√(f² + f_c²) of what it would be; a corner that
 * is not known is found from the power in the monitor signal, which follows the
 * current.
 *
 * How sure curve and corner are goes with the channel of the current (`doubts`), and
 * from there into the budget of a distance: the points of the curve, the curve
 * between them, the scale of the voltage, the corner.
 *
 * @param capture A capture with a drive voltage.
 * @param options Curve, or current per voltage; corner of the capacitor.
 * @returns The capture with a drive current; corner and phase.
 * @throws {NotMeasurableError} If there is no drive voltage, or the corner cannot
 * be found.
 * @throws {RangeError} If the voltage leaves the curve.
 *
 * Source: first-order high-pass (common practice, no source).
 *
 * @example
 * ```ts
 * import { createCapture } from "fringebook";
 * import { convertDrive } from "fringebook/bench";
 * import { expect } from "vitest";
 *
 * const samples = Float64Array.from(
 *   { length: 1000 },
 *   (_, i) => 1.9 + 0.05 * Math.sin(i / 50),
 * );
 * const capture = createCapture([
 *   { name: "CH1", role: "monitor signal", unit: "V", samples },
 *   { name: "CH2", role: "drive voltage", unit: "V", samples },
 * ], { samplingRate: 10e3 });
 * const curve = [1.8, 1.85, 1.9, 1.95, 2].map((voltage) => ({
 *   voltage,
 *   current: 0.1 * (voltage - 1.5),
 * }));
 * const { currentRange } = convertDrive(capture, { curve });
 * expect(currentRange.high).toBeCloseTo(0.045, 6);
 * ```
 */
export function convertDrive(
  capture: Capture,
  options: ConvertDriveOptions,
): ConvertedDrive & Shown {
  requireCapture(capture, task);
  const read = readOptions(convertDriveSpec, options, task);
  const { curve, currentPerVoltage, currentOffset } = read;
  const drive = requireChannel(capture, "drive voltage");
  if ((curve === null) === (currentPerVoltage === null)) {
    throw new RangeError(
      `Cannot ${task} as it takes either 'curve' or 'currentPerVoltage': ${
        curve === null ? "neither" : "both"
      } was given`,
    );
  }
  if (curve !== null && read.couplingCorner !== null) {
    throw new RangeError(
      `Cannot ${task} with a 'curve' behind a capacitor: behind it a voltage means a change of current alone. Give 'currentPerVoltage', the slope of the curve at the operating current`,
    );
  }
  const voltage = copyOf(drive.samples, work);
  if (!allFinite(voltage)) {
    throw new NotMeasurableError(
      "missing samples",
      `Cannot ${task} as samples of '${drive.name}' are missing: cut out a whole part`,
    );
  }
  const { samplingRate } = capture;
  const frequency = frequencyOf(voltage, samplingRate);
  const warnings: Warning[] = [];
  const drawn = curve === null ? null : currentCurve(curve, task);
  const found = read.couplingCorner === null ? null : cornerOf(
    capture,
    voltage,
    read.couplingCorner,
    read.couplingCornerStandardUncertainty,
    frequency,
  );
  if (found !== null) warnings.push(...found.warnings);
  const passed = found === null ? null : behindCapacitor(
    voltage,
    found.corner.value / samplingRate,
    found.settling,
  );
  const current = new Float64Array(voltage.length);
  for (let i = 0; i < current.length; i++) {
    if ((i & stride) === stride) checkpoint(i / current.length, work);
    current[i] = drawn === null
      ? currentOffset + currentPerVoltage! * (passed ?? voltage)[i]!
      : drawn.at(voltage[i]!);
  }
  const [low, high] = extremesOf(current);
  if (low < 0) {
    warnings.push(warn(
      "negative-current",
      `The current falls to ${
        inDigits(1e3 * low, 3)
      } mA, which no diode takes: ${
        read.couplingCorner === null
          ? "look at 'currentPerVoltage' and 'currentOffset'"
          : "give the operating current as 'currentOffset'"
      }`,
    ));
  }
  if (drawn !== null) warnings.push(...curveWarnings(drawn, voltage));
  const ratio = found === null ? 0 : found.corner.value / frequency;
  return createResult<ConvertedDrive>({
    kind: "bench.drive",
    capture: createCapture(
      capture.channels.map((channel) =>
        channel === drive
          ? {
            name: channel.name,
            role: "drive current" as const,
            unit: "A",
            samples: current,
            doubts: [
              ...(drawn === null ? [] : curveDoubts(
                drawn,
                read.voltageScaleRelativeStandardUncertainty,
              )),
              ...(found === null ? [] : cornerDoubts(
                found.corner,
                read.couplingCorner === "find",
              )),
            ],
          }
          : channel
      ),
      {
        samplingRate,
        startTime: capture.startTime,
        metadata: { ...capture.metadata },
        source: capture.source,
        warnings: capture.warnings,
      },
    ),
    couplingCorner: found?.corner ?? null,
    phase: found === null ? null : quantity(
      Math.atan(ratio),
      found.corner.standardUncertainty / frequency / (1 + ratio ** 2),
      "rad",
    ),
    transmission: 1 / Math.hypot(1, ratio),
    frequency,
    currentRange: { low, high },
    warnings,
    provenance: provenance({
      method: "convertDrive",
      captures: [capture.source],
      options: {
        ...read,
        curve: drawn === null
          ? null
          : drawn.points.map((each) => ({ ...each })),
      },
      inputs: inputsOf(convertDriveSpec, options, read, [
        "currentPerVoltage",
        ...(drawn === null ? ["currentOffset"] : []),
      ]),
    }),
    diagnostics: {
      voltage,
      current,
      samplingRate,
      curve: drawn?.points ?? [],
    },
  });
}

/** How far the corner may make the current off; nothing where it is exact. */
function cornerDoubts(
  { value, standardUncertainty, degreesOfFreedom }: Quantity,
  found: boolean,
): ChannelDoubt[] {
  return standardUncertainty > 0
    ? [{
      source: "corner of the drive's capacitor",
      degreesOfFreedom,
      found,
      corner: value,
      standardUncertainty,
    }]
    : [];
}

function cornerOf(
  capture: Capture,
  voltage: Float64Array,
  given: number | "find" | string,
  givenUncertainty: number,
  frequency: number,
): { corner: Quantity; settling: number; warnings: Warning[] } {
  const monitor = findChannel(capture, "monitor signal");
  const period = capture.samplingRate / frequency;
  const signal = monitor === null ? null : copyOf(monitor.samples, work);
  if (typeof given === "number") {
    const settling = signal === null ? 0 : findCorner(
      signal,
      voltage,
      capture.samplingRate,
      given,
      period,
    ).settling;
    return {
      corner: quantity(given, givenUncertainty, "Hz"),
      settling,
      warnings: [],
    };
  }
  if (signal === null) {
    throw new NotMeasurableError(
      "no monitor signal",
      `Cannot ${task} as the corner is to be found from the power and there is no monitor signal: give 'couplingCorner' in Hz`,
    );
  }
  const found = findCorner(
    signal,
    voltage,
    capture.samplingRate,
    null,
    period,
  );
  if (!(found.explained > 0.5)) {
    throw new NotMeasurableError(
      "no power",
      `Cannot ${task} as the monitor signal follows the drive by ${
        Math.round(100 * found.explained)
      } % only, whatever the corner: give 'couplingCorner' in Hz`,
    );
  }
  const { value, standardUncertainty } = found.corner;
  const warnings: Warning[] = value < 0.02 * frequency
    ? [warn(
      "corner-low",
      `The corner of ${inDigits(value, 2)} Hz lies far below the drive's ${
        inDigits(frequency, 3)
      } Hz: the capacitor hardly matters, and its corner is not well determined`,
      "note",
    )]
    : standardUncertainty > 0.2 * value
    ? [warn(
      "corner-unsure",
      `The corner is known to ${
        Math.round(100 * standardUncertainty / value)
      } % only: record more periods, or measure the capacitor and its resistor, f = 1/(2πRC)`,
    )]
    : [];
  if (found.switchedOn) {
    warnings.push(warn(
      "drive-settling",
      "The current still settles at the beginning of the record, as after switching on: wait a second before recording",
      "note",
    ));
  }
  return { corner: found.corner, settling: found.settling, warnings };
}

function curveWarnings(
  { points, low, high }: DrawnCurrent,
  voltage: Float64Array,
): Warning[] {
  const [least, most] = extremesOf(voltage);
  if (least < low || most > high) {
    throw new RangeError(
      `Cannot ${task} as the voltage runs from ${least.toPrecision(4)} to ${
        most.toPrecision(4)
      } V and the curve from ${low.toPrecision(4)} to ${
        high.toPrecision(4)
      } V: measure the curve over the whole range, and never beyond the rated current`,
    );
  }
  return points.filter(({ voltage: at }) => at >= least && at <= most).length <
      4
    ? [warn(
      "curve-coarse",
      "Fewer than 4 points of the curve lie within the range of the drive: the current between them is drawn. Measure it closer there",
    )]
    : [];
}

function allFinite(values: Float64Array): boolean {
  for (let i = 0; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    if (!Number.isFinite(values[i])) return false;
  }
  return true;
}

/** Frequency of a drive by its rising crossings of the middle; `NaN` for one. */
function frequencyOf(values: Float64Array, samplingRate: number): number {
  const [low, high] = extremesOf(values);
  const middle = (low + high) / 2;
  const margin = 0.1 * (high - low);
  const rises: number[] = [];
  let below = values[0]! < middle;
  for (let i = 1; i < values.length; i++) {
    if ((i & stride) === stride) checkpoint(NaN, work);
    if (values[i]! < middle - margin) below = true;
    else if (below && values[i]! > middle) {
      rises.push(i);
      below = false;
    }
  }
  const first = rises[0];
  const last = rises.at(-1);
  return rises.length < 2
    ? NaN
    : (rises.length - 1) * samplingRate / (last! - first!);
}
