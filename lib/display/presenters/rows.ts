import type { Quantity, ReportHeadline, ReportRow } from "../../result/mod.ts";

/** A quantity as a main number of a report. */
export function headline(label: string, quantity: Quantity): ReportHeadline {
  const { value, unit, standardUncertainty, coverageFactor } = quantity;
  return { label, value, unit, standardUncertainty, coverageFactor };
}

/** A quantity as a row of a report. */
export function quantityRow(
  label: string,
  quantity: Quantity,
  note = "",
): ReportRow {
  const { value, unit, standardUncertainty } = quantity;
  return {
    label,
    value,
    unit,
    ...(Number.isNaN(standardUncertainty) ? {} : { standardUncertainty }),
    ...(note === "" ? {} : { note }),
  };
}

/** A number, text or yes/no as a row of a report. */
export function row(
  label: string,
  value: ReportRow["value"],
  unit = "",
  note = "",
): ReportRow {
  return { label, value, unit, ...(note === "" ? {} : { note }) };
}

/** A part of a whole as a row in percent. */
export function percentRow(label: string, part: number, note = ""): ReportRow {
  return row(label, 100 * part, "%", note);
}
