import {
  handedOption,
  type Option,
  optional,
  optionOf,
  readOptions,
  requireFields,
} from "../options/mod.ts";
import type { TuningModel } from "../range/mod.ts";
import { type Quantity, quantity, warn, type Warning } from "../result/mod.ts";
import type { CalibrationRecord, RecordedQuantity } from "./record.ts";

/** Options of {@linkcode tuningFromRecord}. */
export interface TuningFromRecordOptions {
  /**
   * When it is used.
   *
   * @default {now}
   */
  at?: Date;
  /**
   * Temperature of the diode now, in °C; `null` if not known.
   *
   * @default {null}
   */
  temperature?: number | string | null;
}

export const useSpec = {
  at: optional(
    handedOption<Date>(
      "When it is used.",
      "a Date",
      (value) => value instanceof Date && !Number.isNaN(value.getTime()),
    ),
    undefined,
    "now",
  ),
  temperature: optional(
    optionOf.between(
      "Temperature of the diode now, in °C.",
      -60,
      150,
      "°C",
      "23°C",
    ),
    null,
  ),
} satisfies Record<keyof TuningFromRecordOptions, Option>;

/**
 * The tuning that a record holds, for {@linkcode measureDistance}. After its
 * date, or outside of its temperatures, it carries a warning that every result
 * derived from it repeats; currents, modulation frequency and distance are
 * checked by the measurement itself, which also counts with the thermal time
 * constant of the record.
 *
 * @param record The record.
 * @param options When and at what temperature it is used.
 * @returns The tuning.
 *
 * @example
 * ```ts
 * import { loadCalibrationRecord, tuningFromRecord } from "fringebook";
 *
 * const read = async (path: string) =>
 *   tuningFromRecord(await loadCalibrationRecord(path), { temperature: 23 });
 * ```
 */
export function tuningFromRecord(
  record: CalibrationRecord,
  options: TuningFromRecordOptions = {},
): TuningModel {
  const task = "take the tuning from a record";
  requireFields(
    record,
    "record",
    ["values", "conditions", "calibratedAt"],
    task,
  );
  const { at = new Date(), temperature } = readOptions(useSpec, options, task);
  const label = `'${record.title}' (revision ${record.revision})`;
  const warnings: Warning[] = record.warnings.filter(({ severity }) =>
    severity === "doubtful"
  );
  if (at.getTime() > Date.parse(record.validUntil)) {
    warnings.push(warn(
      "record-expired",
      `The calibration ${label} was valid until ${
        record.validUntil.slice(0, 10)
      }: calibrate again`,
    ));
  }
  if (at.getTime() < Date.parse(record.calibratedAt)) {
    warnings.push(warn(
      "record-from-the-future",
      `The calibration ${label} was made at ${record.calibratedAt}, after the time of use: check the clock`,
    ));
  }
  const range = record.validRange.temperature;
  if (
    range !== null && temperature !== null &&
    (temperature < range.low || temperature > range.high)
  ) {
    warnings.push(warn(
      "record-outside-temperature",
      `The diode is at ${temperature} °C and the calibration ${label} holds from ${range.low} to ${range.high} °C: calibrate at this temperature`,
    ));
  }
  if (range !== null && temperature === null) {
    warnings.push(warn(
      "record-temperature-unknown",
      `The calibration ${label} holds from ${range.low} to ${range.high} °C, and the temperature of the diode now is not given: measure it and give 'temperature'`,
      "note",
    ));
  }
  const { values } = record;
  const timeConstant = record.conditions.thermalTimeConstant;
  return {
    tuning: restored(values.tuning),
    frequencyTuning: restored(values.frequencyTuning),
    stepsPerCurrentAndDistance: restored(values.stepsPerCurrentAndDistance),
    zeroOffset: restored(values.zeroOffset),
    correlation: record.correlation,
    lineCovariance: record.lineCovariance,
    wavelength: restored(values.wavelength),
    refractiveIndex: record.conditions.air.refractiveIndex,
    currentRange: record.validRange.current,
    distanceRange: record.validRange.distance,
    modulationFrequency: record.conditions.modulationFrequency,
    ...(timeConstant !== undefined && { thermalTimeConstant: timeConstant }),
    common: record.common,
    warnings,
  };
}

function restored(recorded: RecordedQuantity): Quantity {
  return quantity(
    recorded.value,
    recorded.standardUncertainty,
    recorded.unit,
    {
      degreesOfFreedom: recorded.degreesOfFreedom ?? Infinity,
      coverageFactor: recorded.coverageFactor,
    },
  );
}
