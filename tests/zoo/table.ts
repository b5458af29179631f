import { cellTable, number, percent, type Table } from "./cell_table.ts";
import { biasTable, conditionTable, faultTable } from "./motion_tables.ts";
import type { ZooRecord } from "./record.ts";
import { cellsBy, coverageOf, warningRates } from "./summary.ts";

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
    conditionTable(motion),
    faultTable(motion),
    biasTable(motion),
    coverageTable(records),
    warningTable("Warnings on motion", motion),
    warningTable(
      "Warnings on ramps",
      records.filter(({ family }) => family === "range"),
    ),
  ].filter(({ rows }) => rows.length > 0);
}

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
