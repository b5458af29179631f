import { outcomes } from "./record.ts";
import type { Cell, SideSummary } from "./summary.ts";

/** A table: heads and rows of text. */
export interface Table {
  readonly title: string;
  readonly heads: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

/** A number with two digits. */
export const number = (value: number) =>
  Number.isNaN(value)
    ? "–"
    : value === Infinity
    ? "∞"
    : value === 0
    ? "0"
    : value >= 100
    ? value.toFixed(0)
    : value.toPrecision(2);

/** A part of a whole in percent. */
export const percent = (part: number, whole: number) =>
  whole === 0 ? "–" : `${(100 * part / whole).toFixed(0)} %`;

/** Both sides on the benches of some cells. */
export function cellTable(title: string, cells: readonly Cell[]): Table {
  return {
    title,
    heads: [
      "",
      "benches",
      ...outcomes,
      "right, doubted",
      "error 50 %",
      "error 90 %",
      "over bound",
      "CPU s/M",
      "SciPy right",
      "SciPy error 50 %",
      "SciPy 90 %",
      "SciPy CPU s/M",
    ],
    rows: cells.map(({ name, ours, scipy }) => [
      name,
      `${ours.benches}`,
      ...outcomes.map((outcome) => `${ours.counts[outcome] || ""}`),
      `${ours.rightDoubted || ""}`,
      ...errorsOf(ours),
      number(ours.overBound),
      `${number(ours.cpu)} (${number(ours.mostCpu)})`,
      `${scipy.counts.right}`,
      ...errorsOf(scipy),
      `${number(scipy.cpu)}`,
    ]),
  };
}

const errorsOf = ({ medianError, highError }: SideSummary) => [
  number(medianError),
  number(highError),
];

/** A table as lines of text. */
export function textOf({ title, heads, rows }: Table): string {
  const widths = heads.map((head, i) =>
    Math.max(head.length, ...rows.map((row) => row[i]!.length))
  );
  const line = (cells: readonly string[]) =>
    cells.map((cell, i) =>
      i === 0 ? cell.padEnd(widths[i]!) : cell.padStart(widths[i]!)
    ).join("  ").trimEnd();
  return [
    title,
    line(heads),
    line(widths.map((w) => "─".repeat(w))),
    ...rows.map(line),
    "",
  ].join("\n");
}
