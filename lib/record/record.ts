import { readOptions, requireResult } from "../options/mod.ts";
import type { TuningCalibration, TuningPoint } from "../range/mod.ts";
import { libraryVersion, type Quantity, type Warning } from "../result/mod.ts";
import { digestOf } from "./digest.ts";
import { type RecordedContribution, tuningBudget } from "./record_budget.ts";
import { type CalibrationRecordOptions, recordSpec } from "./record_options.ts";

/** A quantity as it stands in a record. */
export type RecordedQuantity =
  & Pick<
    Quantity,
    | "value"
    | "standardUncertainty"
    | "coverageFactor"
    | "unit"
  >
  & {
    /** Effective degrees of freedom (1); `null` where not limited. */
    readonly degreesOfFreedom: number | null;
  };

/** An instrument of the calibration, by the role it had. */
export interface RecordedInstrument {
  /** What it did, such as `"distance scale"` or `"ammeter"`. */
  readonly role: string;
  /** The laboratory's own name or number of it. */
  readonly identification: string;
  /** Its calibration certificate; `null` where it has none. */
  readonly certificate: string | null;
  /** Until when that certificate holds, ISO 8601; `null` if not known. */
  readonly certificateValidUntil: string | null;
}

/** State of bench and air during the calibration. */
export interface RecordedConditions {
  /** Temperature of the diode, in °C; `null` if not measured. */
  readonly temperature: number | null;
  /** Mean current, in A. */
  readonly operatingCurrent: number;
  /** Ramps per second, in Hz. */
  readonly modulationFrequency: number;
  /**
   * Time constant with which the wavelength follows the current, that the steps
   * were counted with, in s; 0 for at once. Records of version 1.0.0 lack it.
   */
  readonly thermalTimeConstant?: number;
  /** Air: °C, Pa, %; `null` where not measured. */
  readonly air: {
    readonly temperature: number | null;
    readonly pressure: number | null;
    readonly humidity: number | null;
    /** Phase refractive index used (1). */
    readonly refractiveIndex: number;
  };
}

/** Who, where, for whom and how; `null` where not stated. */
export interface RecordedCircumstances {
  /** The item: what it is and by what mark it is known again. */
  readonly item: string | null;
  /** Name and address of the laboratory. */
  readonly laboratory: string | null;
  /** Where it was calibrated. */
  readonly place: string | null;
  /** For whom: customer or course. */
  readonly customer: string | null;
  /** By which method. */
  readonly method: string;
  /** Who answers for the result, if not the operator. */
  readonly approvedBy: string | null;
}

/** Lower and upper end of a range. */
export interface RecordedRange {
  /** Lower end. */
  readonly low: number;
  /** Upper end. */
  readonly high: number;
}

/** A calibration record: the content of the JSON document. */
export interface CalibrationRecord {
  /** Address of the JSON Schema. */
  readonly $schema: string;
  /** Version of the schema. */
  readonly schemaVersion: "1.0.0" | "1.1.0" | "1.2.0";
  /** What is calibrated. */
  readonly recordType: "tuning calibration";
  /** Stays the same through all revisions. */
  readonly id: string;
  /** 1 for the first, one more for each revision. */
  readonly revision: number;
  /** The revision that this one replaces; `null` for the first. */
  readonly replaces:
    | { readonly revision: number; readonly digest: string }
    | null;
  /** Why the earlier revision was replaced; `null` for the first. */
  readonly reason?: string | null;
  /** What was calibrated, in the laboratory's words. */
  readonly title: string;
  /** Who, where, for whom and how; records before 1.2.0 lack it. */
  readonly circumstances?: RecordedCircumstances;
  /** What the standard uncertainty of the tuning is made of. */
  readonly budget?: readonly RecordedContribution[];
  /** What was done otherwise than the method says. */
  readonly deviations?: readonly string[];
  /** The values of the record. */
  readonly values: {
    /** dλ/dI, in m/A. */
    readonly tuning: RecordedQuantity;
    /** dν/dI, in Hz/A. */
    readonly frequencyTuning: RecordedQuantity;
    /** Slope of the line, in 1/(A m). */
    readonly stepsPerCurrentAndDistance: RecordedQuantity;
    /** Where the distance starts, in m. */
    readonly zeroOffset: RecordedQuantity;
    /** Vacuum wavelength, in m. */
    readonly wavelength: RecordedQuantity;
  };
  /** Covariances of intercept (1/A) and slope (1/(A m)) of the line. */
  readonly lineCovariance: readonly (readonly number[])[];
  /** Correlation of slope and zero offset (1). */
  readonly correlation: number;
  /** Relative standard uncertainties that all points share (1; offset in m). */
  readonly common: TuningCalibration["common"];
  /** Where the values hold. */
  readonly validRange: {
    /** Current, in A. */
    readonly current: RecordedRange;
    /** Distance, in m. */
    readonly distance: RecordedRange;
    /** Diode temperature, in °C; `null` if not stated. */
    readonly temperature: RecordedRange | null;
  };
  /** Conditions of the calibration. */
  readonly conditions: RecordedConditions;
  /** Instruments used. */
  readonly instruments: readonly RecordedInstrument[];
  /** The captures by name and SHA-256; `null` where made in memory. */
  readonly captures: readonly {
    readonly fileName: string | null;
    readonly sha256: string | null;
  }[];
  /** The calibration points. */
  readonly points: readonly TuningPoint[];
  /** What the calibration warned of. */
  readonly warnings: readonly Warning[];
  /** Name and version of the software. */
  readonly software: { readonly name: string; readonly version: string };
  /** The notebook that computed it; `null` if none. */
  readonly notebook: string | null;
  /** Who calibrated; `null` if not stated. */
  readonly operator: string | null;
  /** When, ISO 8601. */
  readonly calibratedAt: string;
  /** Until when it may be used, ISO 8601. */
  readonly validUntil: string;
  /** Free remarks. */
  readonly remarks: string;
  /** Hash of all of the above. */
  readonly integrity: {
    readonly algorithm: "SHA-256";
    readonly digest: string;
  };
}

/**
 * Name of the JSON Schema of the record: a UUID (RFC 9562), which needs no
 * domain. Records that carry an earlier name are read as well.
 */
export const calibrationRecordSchemaId =
  "urn:uuid:5b0e7e0c-52f1-4a0c-9b6e-3d1f6f0c7a41";

/**
 * Makes a calibration record from a tuning calibration: what, value,
 * covariance, conditions, instruments, captures with hashes, software, who,
 * when, valid until and where. The record is sealed with a SHA-256 over its
 * content.
 *
 * @param calibration The calibration.
 * @param options Title, operator, dates, instruments, conditions.
 * @returns The record.
 * @throws {RangeError} If a date cannot be read, the record would end before it
 * begins, or a capture file was not hashed.
 *
 * @example
 * ```ts
 * import { calibrateTuning, createCalibrationRecord } from "fringebook";
 * import { rampCurrent, simulateCapture } from "fringebook";
 * import { expect } from "vitest";
 *
 * const calibration = calibrateTuning(
 *   [0.1, 0.15, 0.2].map((distance) => ({
 *     distance,
 *     standardUncertainty: 20e-6,
 *     capture: simulateCapture({
 *       distance,
 *       current: rampCurrent({ low: 0.038, high: 0.042, frequency: 10 }),
 *       samplingRate: 5e3,
 *       duration: 0.3,
 *     }),
 *   })),
 *   { wavelength: 650e-9 },
 * );
 * const record = await createCalibrationRecord(calibration, {
 *   title: "Red diode of bench 1",
 *   operator: "A. Student",
 *   calibratedAt: "2026-11-25T10:00:00Z",
 *   validUntil: "2027-05-25T00:00:00Z",
 * });
 * expect(record.revision).toBe(1);
 * ```
 */
export async function createCalibrationRecord(
  calibration: TuningCalibration,
  options: CalibrationRecordOptions,
): Promise<CalibrationRecord> {
  const task = "make a calibration record";
  requireResult(
    calibration,
    "range.tuning",
    "a tuning calibration",
    "calibrateTuning(references, …)",
    task,
  );
  const {
    title,
    operator,
    calibratedAt,
    validUntil,
    instruments = [],
    temperature = null,
    temperatureRange = null,
    air = {},
    notebook = null,
    remarks = "",
    revises = null,
    reason = null,
    item = null,
    laboratory = null,
    place = null,
    customer = null,
    method = methodOf(calibration),
    approvedBy = null,
    deviations = [],
  } = readOptions(recordSpec, options, task);
  const from = readDate("calibratedAt", calibratedAt);
  const until = readDate("validUntil", validUntil);
  if (!(until > from)) {
    throw new RangeError(
      `Cannot make a calibration record as 'validUntil' (${validUntil}) must come after 'calibratedAt' (${calibratedAt})`,
    );
  }
  for (
    const [name, text] of [["title", title], ["operator", operator]] as const
  ) {
    if (text?.trim() === "") {
      throw new RangeError(
        `Cannot make a calibration record as '${name}' is empty: say ${
          name === "title"
            ? "what was calibrated"
            : "who calibrated, or give null"
        }`,
      );
    }
  }
  if ((revises !== null) !== ((reason ?? "").trim() !== "")) {
    throw new RangeError(
      revises === null
        ? "Cannot make a calibration record as 'reason' says why a record is replaced, but 'revises' names none"
        : `Cannot revise the record '${revises.title}' as 'reason' is empty: say why revision ${revises.revision} is replaced, such as "calibrated again after half a year"`,
    );
  }
  for (const { fileName, sha256 } of calibration.provenance.captures) {
    if (fileName !== null && sha256 === null) {
      throw new RangeError(
        `Cannot make a calibration record as capture '${fileName}' was not hashed, so that nobody could tell later whether a file is the one that was used. Read it without 'sha256: false'`,
      );
    }
  }
  const content = {
    $schema: calibrationRecordSchemaId,
    schemaVersion: "1.2.0" as const,
    recordType: "tuning calibration" as const,
    id: revises?.id ?? crypto.randomUUID(),
    revision: (revises?.revision ?? 0) + 1,
    replaces: revises === null ? null : {
      revision: revises.revision,
      digest: revises.integrity.digest,
    },
    reason,
    title,
    circumstances: {
      item: stated(item),
      laboratory: stated(laboratory),
      place: stated(place),
      customer: stated(customer),
      method,
      approvedBy: stated(approvedBy),
    },
    budget: tuningBudget(calibration),
    deviations: [...deviations],
    values: {
      tuning: recorded(calibration.tuning),
      frequencyTuning: recorded(calibration.frequencyTuning),
      stepsPerCurrentAndDistance: recorded(
        calibration.stepsPerCurrentAndDistance,
      ),
      zeroOffset: recorded(calibration.zeroOffset),
      wavelength: recorded(calibration.wavelength),
    },
    lineCovariance: calibration.lineCovariance,
    correlation: calibration.correlation,
    common: { ...calibration.common },
    validRange: {
      current: { ...calibration.currentRange },
      distance: { ...calibration.distanceRange },
      temperature: temperatureRange,
    },
    conditions: {
      temperature,
      operatingCurrent:
        (calibration.currentRange.low + calibration.currentRange.high) / 2,
      modulationFrequency: calibration.modulationFrequency,
      ...(calibration.thermalTimeConstant !== undefined &&
        { thermalTimeConstant: calibration.thermalTimeConstant }),
      air: {
        temperature: air.temperature ?? null,
        pressure: air.pressure ?? null,
        humidity: air.humidity ?? null,
        refractiveIndex: calibration.refractiveIndex,
      },
    },
    instruments: instruments.map((instrument) => ({
      role: instrument.role,
      identification: instrument.identification,
      certificate: instrument.certificate ?? null,
      certificateValidUntil: instrument.certificateValidUntil ?? null,
    })),
    captures: calibration.provenance.captures.map(({ fileName, sha256 }) => ({
      fileName,
      sha256,
    })),
    points: calibration.diagnostics.points.map((point) => ({
      ...point,
      studentizedResidual: Number.isFinite(point.studentizedResidual)
        ? point.studentizedResidual
        : 0,
    })),
    warnings: calibration.warnings.map((warning) => ({ ...warning })),
    software: { name: "Fringebook", version: libraryVersion },
    notebook,
    operator,
    calibratedAt: from.toISOString(),
    validUntil: until.toISOString(),
    remarks,
  };
  return {
    ...content,
    integrity: { algorithm: "SHA-256", digest: await digestOf(content) },
  };
}

/** The method of `calibrateTuning`, in words. */
function methodOf({ diagnostics }: TuningCalibration): string {
  const byHand =
    diagnostics.steps.filter(({ adopted }) => adopted === "by hand").length;
  const how = byHand === 0
    ? ""
    : byHand === diagnostics.steps.length
    ? " by hand on a screen"
    : ` (${byHand} of ${diagnostics.steps.length} by hand on a screen)`;
  return `Interference steps of the self-mixing signal counted${how} on ramps of the drive current at known distances; straight line through steps per current against distance with uncertainties of both (York et al. 2004); tuning = slope × λ² / (2 n)`;
}

/** An empty text states nothing. */
function stated(text: string | null): string | null {
  return text === null || text.trim() === "" ? null : text.trim();
}

function recorded(quantity: Quantity): RecordedQuantity {
  const { value, standardUncertainty, coverageFactor, unit, degreesOfFreedom } =
    quantity;
  return {
    value,
    standardUncertainty,
    coverageFactor,
    unit,
    degreesOfFreedom: Number.isFinite(degreesOfFreedom)
      ? degreesOfFreedom
      : null,
  };
}

function readDate(name: string, text: string): Date {
  const date = new Date(text);
  if (Number.isNaN(date.getTime())) {
    throw new RangeError(
      `Cannot make a calibration record as '${name}' is not a date: current value is '${text}', write it as 2026-11-25T10:00:00Z`,
    );
  }
  return date;
}
