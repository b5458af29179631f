import { requireFields } from "../options/mod.ts";
import type { CalibrationRecord } from "./record.ts";

/**
 * What may truly be said of a record's traceability: only instruments with a
 * certificate that held at the time of calibration count, and the distances
 * must be among them.
 *
 * @param record The record.
 * @returns One or two sentences.
 *
 * @example
 * ```ts
 * import { loadCalibrationRecord, traceabilityStatement } from "fringebook";
 *
 * const say = async (path: string) =>
 *   traceabilityStatement(await loadCalibrationRecord(path));
 * ```
 */
export function traceabilityStatement(record: CalibrationRecord): string {
  requireFields(
    record,
    "record",
    ["values", "conditions", "calibratedAt"],
    "write a record",
  );
  const then = Date.parse(record.calibratedAt);
  const held = record.instruments.filter(
    ({ certificate, certificateValidUntil }) =>
      certificate !== null && certificateValidUntil !== null &&
      Date.parse(certificateValidUntil) >= then,
  );
  const own =
    "This is a calibration by the user, not by an accredited laboratory.";
  if (held.length === 0) {
    return `${own} No instrument with a valid certificate is stated, so the values are not traceable to the SI; they hold for the bench on which they were found.`;
  }
  const list = held.map(({ role, identification, certificate }) =>
    `${role} '${identification}' (certificate ${certificate})`
  ).join(", ");
  const distance = held.some(({ role }) => /distance|length/i.test(role));
  return `${own} Certificates that held at the time are stated for: ${list}. ${
    distance
      ? "The distances follow from the certificate stated for them; whether the whole chain is unbroken is for the user to show."
      : "None is stated for the distance scale, so the values are not traceable to the SI."
  }`;
}
