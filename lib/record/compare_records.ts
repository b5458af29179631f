import { requireRecords } from "../options/mod.ts";
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
import type { CalibrationRecord, RecordedQuantity } from "./record.ts";

/** One record beside the first. */
export interface ComparedRecord {
  /** Title of the record. */
  readonly title: string;
  /** Revision of the record. */
  readonly revision: number;
  /** When it was calibrated, ISO 8601. */
  readonly calibratedAt: string;
  /** Temperature of the diode, in °C; `null` where it was not measured. */
  readonly temperature: number | null;
  /** dλ/dI, in m/A, with all that its certificate states. */
  readonly tuning: Quantity;
  /**
   * Tuning over that of the first record, minus 1 (1), by the lines alone: what
   * both calibrations share, such as the ammeter, cancels.
   */
  readonly change: Quantity;
  /** That change over its expanded uncertainty (1). */
  readonly ratio: number;
  /** Zero of the distances minus that of the first record, in m. */
  readonly zeroChange: Quantity;
}

/** Calibration records of one diode beside each other. */
export interface RecordComparison extends Result {
  /** Kind of the result, by which it is shown. */
  readonly kind: "record.comparison";
  /** The records in order of time; the first is compared with itself. */
  readonly records: readonly ComparedRecord[];
  /** Largest change of the tuning (1). */
  readonly largestChange: Quantity;
  /** What figures and further checks need beside the result. */
  readonly diagnostics: {
    /** Days since the first record. */
    readonly days: readonly number[];
  };
}

/**
 * Compares calibration records of one diode on one bench: how the tuning and the
 * zero of the distances changed since the first. The changes are those of the
 * calibration lines alone, as ammeter, wavelength, air and scale are taken to be
 * the same; the ratio to the expanded uncertainty is at most 1 where nothing
 * drifts (E number).
 *
 * @param records At least 2 records.
 * @returns The changes, in order of time.
 * @throws {RangeError} If there are fewer than 2 records.
 *
 * Source: ISO/IEC 17043:2023, E number (from memory).
 *
 * @example
 * ```ts
 * import { compareRecords } from "fringebook/record";
 * import { expect } from "vitest";
 *
 * expect(() => compareRecords([])).toThrow("at least 2");
 * ```
 */
export function compareRecords(
  records: readonly CalibrationRecord[],
): RecordComparison & Shown {
  const task = "compare records";
  requireRecords(
    records,
    "records",
    ["values", "conditions", "calibratedAt"],
    task,
  );
  if (records.length < 2) {
    throw new RangeError(
      `Cannot ${task} as there are ${records.length}: give at least 2`,
    );
  }
  const sorted = [...records].sort((a, b) =>
    Date.parse(a.calibratedAt) - Date.parse(b.calibratedAt)
  );
  const first = sorted[0]!;
  const start = Date.parse(first.calibratedAt);
  const warnings: Warning[] = [];
  const compared = sorted.map((record): ComparedRecord => {
    const own = record.values.stepsPerCurrentAndDistance;
    const other = first.values.stepsPerCurrentAndDistance;
    const ratio = own.value / other.value;
    const u = record === first ? 0 : ratio *
      Math.hypot(
        own.standardUncertainty / own.value,
        other.standardUncertainty / other.value,
      );
    const change = quantity(ratio - 1, u, "1");
    const zeros = [record.values.zeroOffset, first.values.zeroOffset] as const;
    const zeroChange = quantity(
      zeros[0].value - zeros[1].value,
      record === first ? 0 : Math.hypot(
        zeros[0].standardUncertainty,
        zeros[1].standardUncertainty,
      ),
      "m",
    );
    return {
      title: record.title,
      revision: record.revision,
      calibratedAt: record.calibratedAt,
      temperature: record.conditions.temperature,
      tuning: asQuantity(record.values.tuning),
      change,
      ratio: record === first
        ? 0
        : Math.abs(change.value) / change.expandedUncertainty,
      zeroChange,
    };
  });
  for (const each of compared.slice(1)) {
    if (each.ratio > 1) {
      warnings.push(warn(
        "tuning-changed",
        `From ${first.calibratedAt.slice(0, 10)} to ${
          each.calibratedAt.slice(0, 10)
        } the tuning changed by ${inDigits(100 * each.change.value, 2)} %, ${
          inDigits(each.ratio, 2)
        } times what the lines are sure of${
          sameTemperature(each, compared[0]!)
        }`,
      ));
    }
    if (
      Math.abs(each.zeroChange.value) > each.zeroChange.expandedUncertainty
    ) {
      warnings.push(warn(
        "zero-moved",
        `From ${first.calibratedAt.slice(0, 10)} to ${
          each.calibratedAt.slice(0, 10)
        } the zero of the distances moved by ${
          inDigits(1e3 * each.zeroChange.value, 2)
        } mm: look whether diode, lens or scale were moved`,
      ));
    }
  }
  const largest = compared.reduce((most, each) =>
    Math.abs(each.change.value) > Math.abs(most.change.value) ? each : most
  );
  return createResult<RecordComparison>({
    kind: "record.comparison",
    records: compared,
    largestChange: largest.change,
    warnings,
    provenance: provenance({
      method: "compareRecords",
      captures: sorted.flatMap(({ captures }) => captures),
      options: {
        records: sorted.map(({ id, revision, calibratedAt }) => ({
          id,
          revision,
          calibratedAt,
        })),
      },
      sources: ["ISO/IEC 17043:2023, E number (from memory)"],
    }),
    diagnostics: {
      days: sorted.map(({ calibratedAt }) =>
        (Date.parse(calibratedAt) - start) / 86_400_000
      ),
    },
  });
}

/** A change of the temperature explains one of the tuning. */
function sameTemperature(each: ComparedRecord, first: ComparedRecord): string {
  if (each.temperature === null || first.temperature === null) {
    return ". The temperature of the diode was not noted with both";
  }
  const difference = each.temperature - first.temperature;
  return Math.abs(difference) < 0.5
    ? ", at the same temperature of the diode"
    : `, at ${
      inDigits(difference, 2)
    } K of difference: fitTuningTemperature(…) tells what that does`;
}

function asQuantity(recorded: RecordedQuantity): Quantity {
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
