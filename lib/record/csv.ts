import { requireFields, requireText } from "../options/mod.ts";
import { parse } from "@std/csv/parse";
import { stringify } from "@std/csv/stringify";
import { RecordError } from "./record_error.ts";
import type { CalibrationRecord } from "./record.ts";
import { verifyCalibrationRecord } from "./verify.ts";

/**
 * A record as CSV: one row per value, with its place in the document (a JSON
 * pointer, RFC 6901) and the value as JSON. Nothing is lost.
 *
 * @param record The record.
 * @returns The CSV text.
 *
 * @example
 * ```ts
 * import { loadCalibrationRecord } from "fringebook";
 * import { recordToCsv } from "fringebook/record";
 *
 * const convert = async (path: string) =>
 *   recordToCsv(await loadCalibrationRecord(path));
 * ```
 */
export function recordToCsv(record: CalibrationRecord): string {
  requireFields(
    record,
    "record",
    ["values", "conditions", "calibratedAt"],
    "write a record",
  );
  const rows: { place: string; value: string }[] = [];
  const walk = (value: unknown, place: string) => {
    if (
      typeof value === "object" && value !== null &&
      Object.keys(value).length > 0
    ) {
      for (const [key, item] of Object.entries(value)) {
        const name = key.replaceAll("~", "~0").replaceAll("/", "~1");
        walk(item, `${place}/${name}`);
      }
    } else rows.push({ place, value: JSON.stringify(value) });
  };
  walk(record, "");
  return stringify(rows, { columns: ["place", "value"] });
}

/**
 * Reads a record from CSV and verifies it like any other.
 *
 * @param text The CSV text.
 * @returns The record.
 * @throws {RecordError} If the text is not such a CSV or the record is not in
 * order.
 *
 * @example
 * ```ts
 * import { recordFromCsv } from "fringebook/record";
 *
 * const read = async (path: string) =>
 *   await recordFromCsv(await Deno.readTextFile(path));
 * ```
 */
export async function recordFromCsv(text: string): Promise<CalibrationRecord> {
  requireText(text, "text", "read a calibration record");
  let rows: string[][];
  try {
    rows = parse(text.replace(/^\uFEFF/, "")) as string[][];
  } catch (error) {
    throw new RecordError(
      "csv",
      `Cannot read a calibration record as the text is not CSV: ${
        error instanceof Error ? error.message : error
      }`,
    );
  }
  if (rows[0]?.[0] !== "place" || rows[0][1] !== "value") {
    throw new RecordError(
      "csv",
      "Cannot read a calibration record as the first line is not 'place,value'",
    );
  }
  const root = new Map<string, unknown>();
  rows.slice(1).forEach(([place, value], i) => {
    if (place === undefined || value === undefined || !place.startsWith("/")) {
      throw new RecordError(
        "csv",
        `Cannot read a calibration record as line ${
          i + 2
        } has no place and value`,
      );
    }
    const keys = place.slice(1).split("/").map((key) =>
      key.replaceAll("~1", "/").replaceAll("~0", "~")
    );
    let node = root;
    for (const key of keys.slice(0, -1)) {
      let next = node.get(key);
      if (!(next instanceof Map)) node.set(key, next = new Map());
      node = next as Map<string, unknown>;
    }
    try {
      node.set(keys.at(-1)!, JSON.parse(value));
    } catch {
      throw new RecordError(
        "csv",
        `Cannot read a calibration record as the value of line ${
          i + 2
        } is not JSON: '${value.slice(0, 40)}'`,
      );
    }
  });
  return await verifyCalibrationRecord(plain(root), "the CSV text");
}

/** Maps become objects, or lists where the keys are 0, 1, 2 … */
function plain(value: unknown): unknown {
  if (!(value instanceof Map)) return value;
  const keys = [...value.keys()];
  return keys.length > 0 && keys.every((key, i) => key === String(i))
    ? [...value.values()].map(plain)
    : Object.fromEntries(
      keys.map((key) => [key, plain(value.get(key))]),
    );
}
