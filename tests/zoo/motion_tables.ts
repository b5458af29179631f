import type { Interval, ZooRecord } from "./record.ts";
import { cellsBy, quantile } from "./summary.ts";
import { cellTable, percent, type Table } from "./cell_table.ts";

const atRest = ({ motion, draw }: ZooRecord) =>
  motion === "step" || motion === "ring-down" || Number(draw["restUntil"]) > 0;
const pole = ({ draw }: ZooRecord) => draw.poleOverFringe ?? NaN;

/** What may be on a bench with a moving target. */
const conditions: readonly [string, (record: ZooRecord) => boolean][] = [
  ["ordinary: C and SNR not low, no speckle, no rest, hum and corner stated", (
    r,
  ) =>
    r.draw.feedbackParameter! >= 0.3 && r.draw.snr! >= 16 &&
    !r.draw.speckle && !atRest(r) && r.motion !== "small" &&
    (r.draw.corner === null || r.draw["cornerStated"] === true) &&
    (r.draw.hum === 0 || r.draw["mainsStated"] === true)],
  ["pole below 10 × the fringe rate", (r) => pole(r) < 10],
  ["pole at 10 to 30 ×", (r) => pole(r) >= 10 && pole(r) < 30],
  ["pole above 30 ×", (r) => pole(r) >= 30],
  ["no coupling corner", (r) => r.draw.corner === null],
  [
    "corner stated",
    (r) => r.draw.corner !== null && r.draw["cornerStated"] === true,
  ],
  [
    "corner not stated",
    (r) => r.draw.corner !== null && r.draw["cornerStated"] !== true,
  ],
  [
    "hum, mains stated",
    (r) => r.draw.hum! > 0 && r.draw["mainsStated"] === true,
  ],
  [
    "hum, mains not stated",
    (r) => r.draw.hum! > 0 && r.draw["mainsStated"] !== true,
  ],
  ["speckle", (r) => Boolean(r.draw.speckle)],
  ["rest, or a tail below a fringe", atRest],
];

/** Motions by what is on the bench. */
export function conditionTable(records: readonly ZooRecord[]): Table {
  return cellTable(
    "Motion by what is on the bench (a bench may stand in several lines)",
    conditions.flatMap(([name, holds]) =>
      cellsBy(records.filter(holds), () => name)
    ),
  );
}

/** Lost fringes and reversed strokes of the displacements that are not right. */
export function faultTable(records: readonly ZooRecord[]): Table {
  const groups = [
    ...Map.groupBy(
      records.filter(({ course, ours }) => course && ours.outcome !== "right"),
      (r) => `${r.feedbackClass}, ${r.noiseClass}`,
    ),
  ].toSorted(([a], [b]) => a < b ? -1 : 1);
  return {
    title: "How displacements go wrong, of those that are not right",
    heads: [
      "",
      "benches",
      "no slip",
      "1 to 4 fringes slip",
      "more",
      "over a tenth of the way reversed",
    ],
    rows: groups.map(([name, group]) => {
      const count = (holds: (slips: number) => boolean) =>
        `${group.filter(({ course }) => holds(course!.slips)).length || ""}`;
      return [
        name,
        `${group.length}`,
        count((n) => n === 0),
        count((n) => n > 0 && n < 5),
        count((n) => n > 4),
        `${group.filter(({ course }) => course!.reversed > 0.1).length || ""}`,
      ];
    }),
  };
}

/** C of the displacements that are right, by the pole. */
export function biasTable(records: readonly ZooRecord[]): Table {
  const rows: readonly [string, number, number][] = [
    ["pole below 10 × the fringe rate", 0, 10],
    ["pole at 10 to 30 ×", 10, 30],
    ["pole above 30 ×", 30, Infinity],
  ];
  return {
    title: "C of right displacements, by the pole",
    heads: ["", "stated", "error, median", "u, median", "95 % interval holds"],
    rows: rows.map(([name, low, high]) => {
      const found = records.filter((r) =>
        r.ours.outcome === "right" && pole(r) >= low && pole(r) < high
      ).flatMap(({ intervals: { feedbackParameter: c } }) =>
        c && c.holds !== null ? [c] : []
      );
      const part = (of: (c: Interval) => number) => {
        const value = 100 * quantile(found.map(of), 0.5);
        return Number.isNaN(value) ? "–" : `${value.toPrecision(2)} %`;
      };
      return [
        name,
        `${found.length}`,
        part(({ value, truth }) => value / truth - 1),
        part(({ u, truth }) => u / truth),
        percent(found.filter(({ holds }) => holds).length, found.length),
      ];
    }),
  };
}
