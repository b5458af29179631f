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
  temperature?: number | null;
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
    temperature?: number;
    pressure?: number;
    humidity?: number;
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
