import type { Measured } from "./measure_row.ts";
import type { Timing } from "./row.ts";

const headings = [
  "row",
  "ours",
  "",
  "theirs",
  "",
  "ratio",
  "CPU",
  "memory",
  "theirs",
  "beside",
];
const widths = [40, 8, 11, 8, 11, 6, 6, 8, 8, 24];

/** The middle value. */
export function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const half = sorted.length >> 1;
  return sorted.length % 2 === 1
    ? sorted[half]!
    : (sorted[half - 1]! + sorted[half]!) / 2;
}

/** Heading of the table. */
export function tableHead(): string {
  return `${line(headings)}\n${"-".repeat(widths.reduce((a, b) => a + b + 1))}`;
}

/** One row of the table. */
export function tableRow({ row, ours, theirs, bytes }: Measured): string {
  const rate = (timing: Timing) => {
    const wall = median(timing.wall);
    if (bytes !== null) return `${(bytes / 1e6 / wall).toFixed(0)} MB/s`;
    if (row.samples === undefined) return "";
    return `${(row.samples / 1e6 / wall).toFixed(1)} MS/s`;
  };
  const other = typeof theirs === "string" ? null : theirs;
  const ratio = (key: "wall" | "cpu") =>
    other === null
      ? ""
      : figure(median(other[key].map((value, at) => value / ours[key][at]!)));
  return line([
    row.name,
    seconds(ours),
    rate(ours),
    other === null ? "" : seconds(other),
    other === null ? "" : rate(other),
    ratio("wall"),
    ratio("cpu"),
    memory(ours.peak),
    other === null ? "" : memory(other.peak),
    typeof theirs === "string" && theirs !== "" ? theirs : row.other,
  ]);
}

const figure = (value: number) =>
  Number.isFinite(value) ? value.toFixed(2) : "";

const seconds = ({ wall }: Timing) => {
  const value = median(wall);
  return value < 1
    ? `${(value * 1000).toFixed(value < 0.1 ? 1 : 0)} ms`
    : `${value.toFixed(2)} s`;
};

const memory = (bytes: number) =>
  Number.isFinite(bytes) ? `${(bytes / 1e6).toFixed(0)} MB` : "";

function line(cells: readonly string[]): string {
  return cells.map((cell, at) =>
    at === 0 || at === cells.length - 1
      ? cell.padEnd(widths[at]!)
      : cell.padStart(widths[at]!)
  ).join(" ").trimEnd();
}
