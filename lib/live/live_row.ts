/** A value that the live view shows beside the meter. */
export interface LiveRow {
  /** What it is, such as `"displacement"`. */
  readonly label: string;
  /** The value; a text where there is none to show. */
  readonly value: number | string;
  /** Its unit; `""` for a text. */
  readonly unit: string;
  /** Its standard uncertainty; `NaN` where it is not known. */
  readonly standardUncertainty: number;
}

/** A row with a text. */
export function textRow(label: string, value: string): LiveRow {
  return { label, value, unit: "", standardUncertainty: NaN };
}
