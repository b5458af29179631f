/** One row of a report: a named number, text or quantity. */
export interface ReportRow {
  /** What it is, in plain words, such as `"wavelength"`. */
  readonly label: string;
  /** A number in `unit`, or text. */
  readonly value: number | string | boolean | null;
  /** SI unit symbol without prefix; `""` for text and pure numbers. */
  readonly unit?: string;
  /** Standard uncertainty in `unit`; left out where it has no meaning. */
  readonly standardUncertainty?: number;
  /** A short remark shown beside the row. */
  readonly note?: string;
}

/** The number a reader looks for first. */
export interface ReportHeadline {
  /** What it is, such as `"distance"`. */
  readonly label: string;
  /** The estimate, in `unit`. */
  readonly value: number;
  /** SI unit symbol without prefix. */
  readonly unit: string;
  /** Standard uncertainty, in `unit`; `NaN` where not determined. */
  readonly standardUncertainty: number;
  /** Coverage factor k of the printed expanded uncertainty (1). */
  readonly coverageFactor: number;
}

/** A named figure of a result; drawn only when it is asked for. */
export interface ReportFigure {
  /** Short stable name, such as `"ramp"`. */
  readonly name: string;
  /** One line that says what the figure shows. */
  readonly caption: string;
  /** Makes the plotly.js specification `{ data, layout }`. */
  readonly draw: () => { data: unknown[]; layout: Record<string, unknown> };
}

/**
 * The neutral report of a result. All printers (text, HTML, Markdown, JSON)
 * start from this and from nothing else, so they cannot disagree.
 */
export interface Report {
  /** Title, such as `"Distance from a current ramp"`. */
  readonly title: string;
  /** The main numbers; empty for a result that has none. */
  readonly headlines: readonly ReportHeadline[];
  /** Further rows in reading order. */
  readonly rows: readonly ReportRow[];
  /** Figures in reading order; the first is shown with the result. */
  readonly figures: readonly ReportFigure[];
  /** One or two plain sentences: how it was computed. */
  readonly method: string;
}
