import {
  groupOption,
  handedOption,
  listOption,
  type Option,
  optional,
  optionOf,
  quantityOption,
} from "../options/mod.ts";
import type {
  CalibrationRecord,
  RecordedInstrument,
  RecordedRange,
} from "./record.ts";

/** What {@linkcode createCalibrationRecord} needs beside the calibration. */
export interface CalibrationRecordOptions {
  /** What was calibrated, in the laboratory's words. */
  title: string;
  /**
   * Who calibrated; `null` is printed as "not stated".
   */
  operator: string | null;
  /**
   * The item: what it is and by what mark it is known again.
   *
   * @default {null}
   */
  item?: string | null;
  /**
   * Name and address of the laboratory.
   *
   * @default {null}
   */
  laboratory?: string | null;
  /**
   * Where it was calibrated.
   *
   * @default {null}
   */
  place?: string | null;
  /**
   * For whom: customer or course.
   *
   * @default {null}
   */
  customer?: string | null;
  /**
   * By which method.
   *
   * @default {the method of `calibrateTuning`}
   */
  method?: string;
  /**
   * Who answers for the result, if not the operator.
   *
   * @default {null}
   */
  approvedBy?: string | null;
  /**
   * What was done otherwise than the method says.
   *
   * @default {[]}
   */
  deviations?: readonly string[];
  /** When; ISO 8601. */
  calibratedAt: string;
  /** Until when it may be used; ISO 8601, after `calibratedAt`. */
  validUntil: string;
  /**
   * Instruments by role.
   *
   * @default {[]}
   */
  instruments?: readonly (
    & Pick<RecordedInstrument, "role" | "identification">
    & Partial<
      RecordedInstrument
    >
  )[];
  /**
   * Diode temperature during the calibration, in °C.
   *
   * @default {null}
   */
  temperature?: number | string | null;
  /**
   * Diode temperatures at which it may be used, in °C.
   *
   * @default {null}
   */
  temperatureRange?: RecordedRange | null;
  /**
   * Air temperature (°C), pressure (Pa) and humidity (%).
   *
   * @default {{}}
   */
  air?: {
    temperature?: number | string;
    pressure?: number | string;
    humidity?: number | string;
  };
  /**
   * The notebook that computed it.
   *
   * @default {null}
   */
  notebook?: string | null;
  /**
   * Free remarks.
   *
   * @default {""}
   */
  remarks?: string;
  /**
   * The record that this one revises; its id is kept, its revision counted up.
   *
   * @default {null}
   */
  revises?: CalibrationRecord | null;
  /**
   * Why that record is replaced; needed with `revises`.
   *
   * @default {null}
   */
  reason?: string | null;
}

const stated = (doc: string) => optional(optionOf.text(doc), null);

const degrees = (doc: string) => optionOf.between(doc, -60, 150, "°C", "23°C");

/** What can be stated of a calibration. */
export const recordSpec = {
  title: optionOf.text(
    "What was calibrated, in the laboratory's words.",
    "Red diode of bench 1",
  ),
  operator: {
    ...stated('Who calibrated; `null` is printed as "not stated".'),
    whenMissing: null,
    fallback: undefined,
    example: "A. Student",
    read: stated("").read,
  } as Option<string | null>,
  item: stated("The item: what it is and by what mark it is known again."),
  laboratory: stated("Name and address of the laboratory."),
  place: stated("Where it was calibrated."),
  customer: stated("For whom: customer or course."),
  method: optional(
    optionOf.text("By which method."),
    undefined,
    "the method of calibrateTuning",
  ),
  approvedBy: stated("Who answers for the result, if not the operator."),
  deviations: optional(
    listOption(
      "What was done otherwise than the method says.",
      optionOf.text("One deviation."),
    ),
    [],
  ),
  calibratedAt: optionOf.text("When; ISO 8601.", "2026-11-25T10:00:00Z"),
  validUntil: optionOf.text(
    "Until when it may be used; ISO 8601, after `calibratedAt`.",
    "2027-05-25T00:00:00Z",
  ),
  instruments: optional(
    handedOption<NonNullable<CalibrationRecordOptions["instruments"]>>(
      "Instruments by role.",
      "a list of { role, identification }",
      (value) =>
        Array.isArray(value) &&
        value.every((one) =>
          typeof one?.role === "string" &&
          typeof one.identification === "string"
        ),
    ),
    [],
  ),
  temperature: optional(
    degrees("Diode temperature during the calibration, in °C."),
    null,
  ),
  temperatureRange: optional(
    groupOption("Diode temperatures at which it may be used, in °C.", {
      low: degrees("Lower end, in °C."),
      high: degrees("Upper end, in °C."),
    }),
    null,
  ),
  air: optional(
    groupOption("Air temperature (°C), pressure (Pa) and humidity (%).", {
      temperature: optional(
        degrees("Temperature of the air, in °C."),
        undefined,
        "not stated",
      ),
      pressure: optional(
        quantityOption({
          doc: "Pressure of the air, in Pa.",
          unit: "Pa",
          least: 1e3,
          most: 140e3,
          customary: ["hPa", "kPa"],
          example: "1013hPa",
        }),
        undefined,
        "not stated",
      ),
      humidity: optional(
        optionOf.between(
          "Relative humidity of the air, in %.",
          0,
          100,
          "%",
          "50%",
        ),
        undefined,
        "not stated",
      ),
    }),
    {} as { temperature?: number; pressure?: number; humidity?: number },
    "not stated",
  ),
  notebook: stated("The notebook that computed it."),
  remarks: optional(optionOf.text("Free remarks."), ""),
  revises: optional(
    handedOption<CalibrationRecord>(
      "The record that this one revises; its id is kept, its revision counted up.",
      "a record of loadCalibrationRecord(…)",
      (value) => typeof value === "object" && value !== null && "id" in value,
    ),
    null,
  ),
  reason: stated("Why that record is replaced; needed with `revises`."),
} satisfies Record<keyof CalibrationRecordOptions, Option>;
