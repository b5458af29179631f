/** One row of the tour's table. */
export interface TourRow {
  readonly notebook: string;
  readonly result: string;
  readonly measured: string;
  readonly truth: string;
  readonly verdict: string;
  readonly time: string;
}

/** Heads of the columns. */
export const tourHeads: TourRow = {
  notebook: "notebook",
  result: "result",
  measured: "measured ± U",
  truth: "truth",
  verdict: "verdict",
  time: "time",
};

/**
 * Lays rows out as a table of plain text.
 *
 * @param rows The rows.
 * @returns Lines with aligned columns.
 */
export function resultTable(rows: readonly TourRow[]): string {
  const all = [tourHeads, ...rows].map((row) => Object.values(row) as string[]);
  const widths = all[0]!.map((_, column) =>
    Math.max(...all.map((row) => [...row[column]!].length))
  );
  const lines = all.map((row) =>
    row.map((text, i) => text + " ".repeat(widths[i]! - [...text].length))
      .join("  ").trimEnd()
  );
  lines.splice(1, 0, widths.map((width) => "─".repeat(width)).join("  "));
  return lines.join("\n");
}
