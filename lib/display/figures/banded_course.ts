import type { ShownAxis } from "../axis.ts";
import { band, curve, type PlotlyTrace } from "./trace.ts";

/** How a {@linkcode bandedCourse} looks. */
export interface BandedCourseLook {
  /** Name of the course in the legend. */
  readonly name: string;
  /** Colour of the course and its band. */
  readonly colour: string;
  /** Panel of the figure, from 1. @default {1} */
  readonly panel?: number;
  /** What stands in the legend. @default {"both"} */
  readonly legend?: "both" | "course" | "band";
}

/** Stretches of a course that get a band of their own. */
const mostStretches = 50;

/**
 * A course over time with its 95 % band, left out where it is `NaN`.
 *
 * @param time Times, in the unit of `x`.
 * @param values The course, in the unit of `y`.
 * @param spread Its standard uncertainty, in the same unit.
 * @param x Axis of the times.
 * @param y Axis of the values.
 * @param look Name, colour, panel, legend.
 */
export function bandedCourse(
  time: Float64Array,
  values: Float64Array,
  spread: Float64Array,
  x: ShownAxis,
  y: ShownAxis,
  { name, colour, panel = 1, legend = "both" }: BandedCourseLook,
): PlotlyTrace[] {
  const around = (sign: 1 | -1) =>
    values.map((value, k) => value + sign * 1.96 * spread[k]!);
  const [low, high] = [around(-1), around(1)];
  return [
    ...stretches(values).map(([from, to], k) =>
      band(
        time.subarray(from, to),
        low.subarray(from, to),
        high.subarray(from, to),
        x,
        y,
        {
          name: "95 % band",
          colour,
          panel,
          legend: legend !== "course" && k === 0,
        },
      )
    ),
    curve(time, values, x, y, {
      name,
      colour,
      panel,
      width: 1.8,
      ...(legend === "band" ? { legend: false } : {}),
    }),
  ];
}

/** First index and index after the last of each stretch without `NaN`. */
function stretches(values: Float64Array): [number, number][] {
  const found: [number, number][] = [];
  let from = -1;
  for (let k = 0; k <= values.length; k++) {
    const there = k < values.length && Number.isFinite(values[k]!);
    if (there && from < 0) from = k;
    if (!there && from >= 0) {
      if (k - from > 1) found.push([from, k]);
      from = -1;
    }
  }
  return found.slice(0, mostStretches);
}
