import { type Capture, requireChannel } from "../capture/mod.ts";
import { NotMeasurableError } from "../errors/mod.ts";
import { normalProbability, studentQuantile } from "../fit/mod.ts";
import {
  choiceOption,
  handedOption,
  inputsOf,
  isCaptureLike,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireCapture,
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
import {
  blockMeans,
  couplingWarning,
  levelScale,
  momentsOf,
  transimpedanceOption,
} from "./level_samples.ts";

/** Options of {@linkcode calibratePresence}. */
export interface CalibratePresenceOptions {
  /**
   * A capture with the target there, where there is one: it says which way the
   * level goes, and how surely it is seen.
   *
   * @default {null}
   */
  present?: Capture | null;
  /**
   * Which way the level goes when a target comes.
   *
   * @default {that of the capture with the target, else "rise"}
   */
  change?: "rise" | "fall";
  /**
   * Time over which the level is averaged before each decision, in s; the
   * default is one period of 50 Hz, which takes the hum out.
   *
   * @default {0.02}
   */
  averagingTime?: number | string;
  /**
   * Mean time between two false alarms, in s, from which the threshold follows.
   *
   * @default {3600}
   */
  falseAlarmInterval?: number | string;
  /**
   * Where presence ends: part of the way from the empty level to the threshold
   * (1). 1 is no hysteresis.
   *
   * @default {0.5}
   */
  hysteresis?: number | string;
  /**
   * Transimpedance of the monitor's amplifier, in V/A, negative if it inverts; not
   * used where the channel is in A.
   *
   * @default {100e3}
   */
  transimpedance?: number | string;
}

export const calibratePresenceSpec = {
  present: optional(
    handedOption<Capture>(
      "A capture with the target there.",
      "a capture",
      isCaptureLike,
    ),
    null,
  ),
  change: optional(
    choiceOption("Which way the level goes when a target comes.", [
      "rise",
      "fall",
    ]),
    undefined,
    'that of the capture with the target, else "rise"',
  ),
  averagingTime: optional(
    optionOf.time("Time over which the level is averaged, in s.", "20ms"),
    0.02,
  ),
  falseAlarmInterval: optional(
    optionOf.time("Mean time between two false alarms, in s.", "3600s"),
    3600,
  ),
  hysteresis: optional(
    optionOf.relative(
      "Where presence ends: part of the way from the empty level to the threshold (1).",
    ),
    0.5,
  ),
  transimpedance: transimpedanceOption,
} satisfies Record<keyof CalibratePresenceOptions, Option>;

/** A threshold for "something is there", from the noise of the empty bench. */
export interface PresenceCalibration extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "level.threshold";
  /** Unit of the levels: `"A"`, or that of a channel in neither V nor A. */
  readonly unit: string;
  /** Level per sample of the channel, as of 1/transimpedance. */
  readonly factor: number;
  /** Level without a target, in `unit`. */
  readonly emptyLevel: Quantity;
  /** Standard deviation of one averaged level, in `unit`. */
  readonly noise: number;
  /** Which way the level goes when a target comes. */
  readonly change: "rise" | "fall";
  /** Level at which presence begins, in `unit`. */
  readonly threshold: number;
  /** Level at which presence ends, in `unit`. */
  readonly release: number;
  /** Distance of the threshold from the empty level, in `noise` (1). */
  readonly margin: number;
  /** Probability of a false alarm in one decision (1). */
  readonly falseAlarmProbability: number;
  /** False alarms per time, in 1/s. */
  readonly falseAlarmRate: number;
  /** Change of the level that 95 % of the decisions see, in `unit`. */
  readonly detectionLimit: number;
  /** Level with the target, in `unit`; `null` where there was no such capture. */
  readonly presentLevel: Quantity | null;
  /** Probability that one decision misses that target (1); `NaN` without it. */
  readonly missProbability: number;
  /** Time over which the level is averaged, in s. */
  readonly averagingTime: number;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Averaged levels without a target, in `unit`. */
    readonly empty: Float64Array;
    /** Averaged levels with the target, in `unit`; empty without it. */
    readonly present: Float64Array;
    /** Correlation of neighbouring averages without a target (1). */
    readonly correlation: number;
  };
}

const task = "calibrate presence";

/** Fewest averaged levels from which a threshold is made. */
const fewestBlocks = 8;

/**
 * Sets a threshold for "something is there" from the noise of the empty bench:
 * threshold = mean ± t(1 − p, n − 1) s √(1 + 1/n) over n averaged levels with the
 * standard deviation s, where p = averaging time / time between false alarms. The
 * threshold is that of the next average, and so the rate of false alarms is the
 * wanted one on average over all such calibrations, for normal noise that does
 * not drift. Presence ends at the part `hysteresis` of that way.
 *
 * A change of the level as large as the way to the threshold and 1.645 s more is
 * seen by 95 % of the decisions.
 *
 * @param empty A capture without a target, coupled with DC.
 * @param options Averaging time in s, time between false alarms in s, hysteresis.
 * @returns Threshold, release, false-alarm rate, detection limit.
 * @throws {NotMeasurableError} If there is no monitor signal, or the capture
 * holds fewer than 8 averages.
 *
 * Source: threshold of a future value, Whitmore 1986 (from memory); detection
 * limit, Currie 1968 (from memory).
 *
 * @example
 * ```ts
 * import { calibratePresence, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const empty = simulateCapture({
 *   distance: 0.1,
 *   samplingRate: 10e3,
 *   duration: 2,
 *   modulationIndex: 1e-9,
 *   noise: { signalToNoiseRatio: 20, shot: true },
 *   seed: 1,
 * });
 * const { threshold, emptyLevel, change } = calibratePresence(empty);
 * expect(change).toBe("rise");
 * expect(threshold).toBeGreaterThan(emptyLevel.value);
 * ```
 */
export function calibratePresence(
  empty: Capture,
  options: CalibratePresenceOptions = {},
): PresenceCalibration & Shown {
  requireCapture(empty, task);
  const read = readOptions(calibratePresenceSpec, options, task);
  const { averagingTime, falseAlarmInterval, hysteresis, transimpedance } =
    read;
  const { present } = read;
  const scale = levelScale(empty, transimpedance, task);
  const levels = averagedLevels(empty, averagingTime, scale.factor);
  const { count, mean, standardDeviation, correlation } = momentsOf(levels);
  if (count < fewestBlocks) {
    throw new NotMeasurableError(
      "record too short",
      `Cannot ${task} as the capture without a target holds ${count} averages of ${averagingTime} s: record ${
        inDigits(100 * averagingTime, 3)
      } s or more, or average less long`,
    );
  }
  // Less is the rounding of the means.
  if (!(standardDeviation > 1e-12 * Math.abs(mean))) {
    throw new NotMeasurableError(
      "no noise",
      `Cannot ${task} as the level without a target does not change at all: it stays at ${
        mean.toPrecision(4)
      } ${scale.unit}. Use a finer range of the recorder`,
    );
  }
  const probability = averagingTime / falseAlarmInterval;
  if (!(probability < 0.5)) {
    throw new RangeError(
      `Cannot ${task} as 'falseAlarmInterval' must be more than twice the averaging time of ${averagingTime} s: current value is ${falseAlarmInterval} s`,
    );
  }
  const there = present === null
    ? null
    : presentLevels(present, read.averagingTime, transimpedance, scale.unit);
  const change = read.change ??
    (there !== null && there.mean < mean ? "fall" : "rise");
  const sign = change === "rise" ? 1 : -1;
  const margin = studentQuantile(1 - probability, count - 1) *
    Math.sqrt(1 + 1 / count);
  const threshold = mean + sign * margin * standardDeviation;
  const warnings: Warning[] = [
    ...scale.warnings,
    ...couplingWarning(mean, rawDeviation(empty, scale.factor)),
  ];
  if (count < 50) {
    warnings.push(warn(
      "few-averages",
      `The noise was found from ${count} averages, so that the threshold lies ${
        inDigits(margin, 3)
      } standard deviations away: record ${
        inDigits(100 * averagingTime, 3)
      } s or more without a target for a nearer one`,
      "note",
    ));
  }
  if (correlation > 2 / Math.sqrt(count) + 0.1) {
    warnings.push(warn(
      "level-drifts",
      `The level without a target changes more slowly than the ${averagingTime} s over which it is averaged (correlation ${
        correlation.toFixed(2)
      }): a drift crosses the threshold as a target does, and the rate of false alarms does not count it. Let the diode warm up, shade the room's light, and calibrate often`,
    ));
  }
  const misses = there === null
    ? NaN
    : missing(there, sign, threshold, standardDeviation);
  if (there !== null) {
    if (sign * (there.mean - mean) <= 0) {
      warnings.push(warn(
        "wrong-way",
        `With the target the level ${
          there.mean > mean ? "rises" : "falls"
        }, and a ${change} was asked for: leave 'change' out`,
      ));
    } else if (misses > 0.05) {
      warnings.push(warn(
        "target-hidden",
        `With the target the level changes by ${
          inDigits(Math.abs(there.mean - mean) / standardDeviation, 2)
        } standard deviations of the noise and the threshold lies at ${
          inDigits(margin, 2)
        }: ${
          inDigits(100 * misses, 2)
        } % of the decisions miss it. Average longer, bring it nearer, or stick retroreflecting sheet on it`,
      ));
    }
  }
  return createResult<PresenceCalibration>({
    kind: "level.threshold",
    unit: scale.unit,
    factor: scale.factor,
    emptyLevel: quantity(
      mean,
      standardDeviation / Math.sqrt(count),
      scale.unit,
      { degreesOfFreedom: count - 1 },
    ),
    noise: standardDeviation,
    change,
    threshold,
    release: mean + hysteresis * (threshold - mean),
    margin,
    falseAlarmProbability: probability,
    falseAlarmRate: probability / averagingTime,
    detectionLimit: (margin + 1.645) * standardDeviation,
    presentLevel: there === null ? null : quantity(
      there.mean,
      there.standardDeviation / Math.sqrt(there.count),
      scale.unit,
      { degreesOfFreedom: there.count - 1 },
    ),
    missProbability: misses,
    averagingTime,
    warnings,
    provenance: provenance({
      method: "calibratePresence",
      captures: [empty.source, ...(present === null ? [] : [present.source])],
      options: {
        change,
        averagingTime,
        falseAlarmInterval,
        hysteresis,
        transimpedance,
      },
      inputs: inputsOf(calibratePresenceSpec, options, read, scale.restsOn),
      sources: ["Whitmore 1986 (from memory)", "Currie 1968 (from memory)"],
    }),
    diagnostics: {
      empty: levels,
      present: there?.levels ?? new Float64Array(0),
      correlation,
    },
  });
}

/** Levels of the monitor channel, each averaged over a time. */
export function averagedLevels(
  capture: Capture,
  averagingTime: number,
  factor: number,
): Float64Array {
  const { samples } = requireChannel(capture, "monitor signal");
  const length = Math.max(1, Math.round(averagingTime * capture.samplingRate));
  return blockMeans(samples, length, factor);
}

function presentLevels(
  present: Capture,
  averagingTime: number,
  transimpedance: number,
  unit: string,
) {
  const scale = levelScale(present, transimpedance, task);
  if (scale.unit !== unit) {
    throw new RangeError(
      `Cannot ${task} as the capture with the target is in ${scale.unit} and the one without in ${unit}: read both with the same 'unit'`,
    );
  }
  const levels = averagedLevels(present, averagingTime, scale.factor);
  const moments = momentsOf(levels);
  if (moments.count < 2) {
    throw new NotMeasurableError(
      "record too short",
      `Cannot ${task} as the capture with the target holds ${moments.count} averages of ${averagingTime} s: record longer`,
    );
  }
  return { ...moments, levels };
}

/** Probability that a decision misses the target. */
function missing(
  there: { readonly mean: number; readonly standardDeviation: number },
  sign: number,
  threshold: number,
  noise: number,
): number {
  const deviation = Math.max(there.standardDeviation, noise);
  return normalProbability(sign * (threshold - there.mean) / deviation);
}

/** Standard deviation of the samples themselves, in the unit of the level. */
function rawDeviation(capture: Capture, factor: number): number {
  const { samples } = requireChannel(capture, "monitor signal");
  const stride = Math.max(1, Math.floor(samples.length / 65536));
  const some = Float64Array.from(
    { length: Math.floor(samples.length / stride) },
    (_, k) => factor * samples[k * stride]!,
  );
  return momentsOf(some).standardDeviation;
}
