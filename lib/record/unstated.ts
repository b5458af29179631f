import { requireFields } from "../options/mod.ts";
import type { CalibrationRecord } from "./record.ts";

/**
 * What a certificate of a record prints as "not stated", in its words.
 *
 * @param record The record.
 * @returns Names such as `"laboratory"` or `"uncertainty of the wavelength"`;
 * none where all is stated.
 *
 * @example
 * ```ts
 * import { loadCalibrationRecord } from "fringebook";
 * import { unstatedOf } from "fringebook/record";
 *
 * const say = async (path: string) =>
 *   unstatedOf(await loadCalibrationRecord(path));
 * ```
 */
export function unstatedOf(record: CalibrationRecord): string[] {
  requireFields(
    record,
    "record",
    ["values", "conditions", "calibratedAt"],
    "say what is not stated",
  );
  const { circumstances, conditions, validRange, budget = [] } = record;
  const { temperature, pressure, humidity } = conditions.air;
  const missing: readonly (readonly [name: string, isMissing: boolean])[] = [
    ["item", (circumstances?.item ?? null) === null],
    ["laboratory", (circumstances?.laboratory ?? null) === null],
    ["place of calibration", (circumstances?.place ?? null) === null],
    ["customer or course", (circumstances?.customer ?? null) === null],
    ["method", (circumstances?.method ?? null) === null],
    [
      "temperature of the diode",
      conditions.temperature === null && validRange.temperature === null,
    ],
    [
      "air",
      temperature === null && pressure === null && humidity === null,
    ],
    [
      "thermal time constant",
      conditions.thermalTimeConstant === undefined,
    ],
    ...budget.filter((line) => !(line.relativeStandardUncertainty > 0))
      .map(({ source }) => [`uncertainty of the ${source}`, true] as const),
    ["instruments", record.instruments.length === 0],
    ["calibrated by", record.operator === null],
  ];
  return missing.filter(([, isMissing]) => isMissing).map(([name]) => name);
}
