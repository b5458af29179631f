import { requireFields } from "../options/mod.ts";
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
import type { CalibrationRecord } from "./record.ts";

/** What a check measurement says of a record. */
export interface RecordCheck extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "record.check";
  /** The quantity measured with the record, or anew. */
  readonly measured: Quantity;
  /** What it should be. */
  readonly reference: Quantity;
  /** Measured minus reference, in their unit. */
  readonly difference: number;
  /** Eₙ: difference over the expanded uncertainty of the difference (1). */
  readonly normalizedError: number;
  /** Whether |Eₙ| ≤ 1. */
  readonly agrees: boolean;
}

/** Options of {@linkcode checkCalibrationRecord}. */
export interface CheckRecordOptions {
  /** The quantity measured with the record (a distance), or anew (a tuning). */
  measured: Quantity;
  /** The known distance, in m; left out where a tuning was measured anew. */
  reference?: Quantity;
  /**
   * When.
   *
   * @default {now}
   */
  at?: Date;
}

/**
 * Checks a record against a measurement: a known distance measured with it, or
 * its tuning calibrated anew. With expanded uncertainties of k = 2,
 *
 * ```text
 * Eₙ = (x - X) / √(U²(x) + U²(X)),   |Eₙ| ≤ 1: they agree
 * ```
 *
 * Source: ISO 13528:2015, 9.7 (from memory). It holds for independent values: a
 * reference from the scale that the record was calibrated with shares its errors,
 * which the check then cannot see.
 *
 * @param record The record.
 * @param options What was measured and what it should be.
 * @returns Eₙ and whether the two agree.
 * @throws {RangeError} If the units differ or no uncertainty is stated.
 *
 * @example
 * ```ts
 * import {
 *   checkCalibrationRecord,
 *   loadCalibrationRecord,
 *   quantity,
 * } from "fringebook";
 *
 * const check = async (path: string) =>
 *   checkCalibrationRecord(await loadCalibrationRecord(path), {
 *     measured: quantity(0.2003, 0.0002, "m"),
 *     reference: quantity(0.2, 0.0001, "m"),
 *   });
 * ```
 */
export function checkCalibrationRecord(
  record: CalibrationRecord,
  options: CheckRecordOptions,
): RecordCheck & Shown {
  const task = "check a calibration record";
  requireFields(record, "record", ["values", "conditions"], task);
  requireFields(options, "options", ["measured"], task);
  const { measured, at = new Date() } = options;
  const recorded = record.values.tuning;
  const reference = options.reference ??
    quantity(recorded.value, recorded.standardUncertainty, recorded.unit);
  if (measured.unit !== reference.unit) {
    throw new RangeError(
      `Cannot check the record '${record.title}' as '${measured.unit}' was measured and '${reference.unit}' is the reference: give a distance in m with its 'reference', or a tuning in m/A`,
    );
  }
  const uncertainty = 2 *
    Math.hypot(measured.standardUncertainty, reference.standardUncertainty);
  if (!(uncertainty > 0)) {
    throw new RangeError(
      `Cannot check the record '${record.title}' as neither value has an uncertainty: an agreement cannot be judged without`,
    );
  }
  const difference = measured.value - reference.value;
  const normalizedError = difference / uncertainty;
  const agrees = Math.abs(normalizedError) <= 1;
  const warnings: Warning[] = [];
  if (!agrees) {
    warnings.push(warn(
      "record-disagrees",
      `The check does not agree with the record '${record.title}' (revision ${record.revision}): Eₙ = ${
        normalizedError.toFixed(2)
      }, beyond ±1. Repeat it; if it stays, calibrate again and look at what was measured since the last good check`,
    ));
  }
  if (at.getTime() > Date.parse(record.validUntil)) {
    warnings.push(warn(
      "record-expired",
      `The record was valid until ${record.validUntil.slice(0, 10)}`,
    ));
  }
  return createResult<RecordCheck>({
    kind: "record.check",
    measured,
    reference,
    difference,
    normalizedError,
    agrees,
    warnings,
    provenance: provenance({
      method: "checkCalibrationRecord",
      captures: [],
      options: {
        record: record.id,
        revision: record.revision,
        digest: record.integrity.digest,
        at: at.toISOString(),
      },
      sources: ["ISO 13528:2015, 9.7 (from memory)"],
    }),
    diagnostics: {},
  });
}
