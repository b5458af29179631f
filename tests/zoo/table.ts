import { outcomes, type ZooRecord } from "./record.ts";
import {
  type Cell,
  cellsBy,
  coverageOf,
  type SideSummary,
  warningRates,
} from "./summary.ts";

/** A table: heads and rows of text. */
export interface Table {
  readonly title: string;
  readonly heads: readonly string[];
  readonly rows: readonly (readonly string[])[];
}

const number = (value: number) =>
  Number.isNaN(value)
    ? "–"
    : value === Infinity
    ? "∞"
    : value === 0
    ? "0"
    : value >= 100
    ? value.toFixed(0)
    : value.toPrecision(2);

const percent = (part: number, whole: number) =>
  whole === 0 ? "–" : `${(100 * part / whole).toFixed(0)} %`;

/** All tables of a zoo. */
export function tablesOf(records: readonly ZooRecord[]): Table[] {
  const motion = records.filter(({ family }) => family === "motion");
  return [
    cellTable("By family", cellsBy(records, ({ family }) => family)),
    cellTable(
      "Motion by its course",
      cellsBy(motion, (record) => record.motion),
    ),
    cellTable(
      "Motion by feedback and noise",
      cellsBy(motion, (r) => `${r.feedbackClass}, ${r.noiseClass}`),
    ),
    cellTable(
      "Ramps, speeds and spoilt captures by kind",
      cellsBy(
        records.filter(({ family }) => family !== "motion"),
        (record) => `${record.family}: ${record.motion}`,
      ),
    ),
    cellTable(
      "Ramps by feedback and noise",
      cellsBy(
        records.filter(({ family }) => family === "range"),
        (r) => `${r.feedbackClass}, ${r.noiseClass}`,
      ),
    ),
    matrix(motion),
    coverageTable(records),
    warningTable("Warnings on motion", motion),
    warningTable(
      "Warnings on ramps",
      records.filter(({ family }) => family === "range"),
    ),
  ].filter(({ rows }) => rows.length > 0);
}

function cellTable(title: string, cells: readonly Cell[]): Table {
  return {
    title,
    heads: [
      "",
      "benches",
      ...outcomes,
      "right, doubted",
      "error 50 %",
      "90 %",
      "over bound",
      "CPU s/M",
      "SciPy right",
      "error 50 %",
      "90 %",
      "CPU s/M",
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

/** Right of ours against SciPy's in every cell of (C, SNR, motion). */
function matrix(records: readonly ZooRecord[]): Table {
  const columns = [
    ...new Set(records.map((r) => `${r.feedbackClass}, ${r.noiseClass}`)),
  ].toSorted();
  const motions = [...new Set(records.map(({ motion }) => motion))].toSorted();
  return {
    title: "Right of ours, of SciPy's, of how many: motion by (C, SNR)",
    heads: ["", ...columns],
    rows: motions.map((motion) => [
      motion,
      ...columns.map((column) => {
        const cell = records.filter((r) =>
          r.motion === motion &&
          `${r.feedbackClass}, ${r.noiseClass}` === column
        );
        const right = (side: "ours" | "scipy") =>
          cell.filter((r) => r[side]?.outcome === "right").length;
        return cell.length === 0
          ? ""
          : `${right("ours")} ${right("scipy")} /${cell.length}`;
      }),
    ]),
  };
}

function coverageTable(records: readonly ZooRecord[]): Table {
  return {
    title: "95 % intervals that hold the truth",
    heads: [
      "",
      "stated",
      "hold",
      "",
      "of sure ones",
      "hold",
      "",
      "without u",
      "u over error (median)",
    ],
    rows: coverageOf(records).map((c) => [
      c.quantity,
      `${c.stated}`,
      `${c.held}`,
      percent(c.held, c.stated),
      `${c.sureStated}`,
      `${c.sureHeld}`,
      percent(c.sureHeld, c.sureStated),
      `${c.without || ""}`,
      number(c.uOverError),
    ]),
  };
}

function warningTable(title: string, records: readonly ZooRecord[]): Table {
  const { right, wrong, rates } = warningRates(records);
  return {
    title: `${title}: ${right} right results, ${wrong} others`,
    heads: ["", "on right", "", "on others", ""],
    rows: rates.map(({ code, onRight, onWrong }) => [
      code,
      `${onRight}`,
      percent(onRight, right),
      `${onWrong}`,
      percent(onWrong, wrong),
    ]),
  };
}

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
