import type { ShownAxis } from "../axis.ts";
import { thinTrace } from "../thin.ts";

/** A trace of plotly.js. */
export type PlotlyTrace = Record<string, unknown>;

/** How a trace looks and where it stands. */
export interface TraceStyle {
  /** Name in the legend. */
  readonly name: string;
  /** Line or marker colour. */
  readonly colour: string;
  /** Panel, counted from 1 at the bottom. @default {1} */
  readonly panel?: number;
  /** Whether it has an entry in the legend. @default {true} */
  readonly legend?: boolean;
  /** Line width, in CSS pixels. @default {1.4} */
  readonly width?: number;
  /** Dash of the line. @default {"solid"} */
  readonly dash?: "solid" | "dash" | "dot";
  /** Marker of plotly.js. @default {"circle"} */
  readonly symbol?: string;
  /** Marker size, in CSS pixels. @default {7} */
  readonly size?: number;
}

/**
 * Evenly sampled values as a line, thinned to what a figure can show.
 *
 * @param samples Samples, in the SI unit of `y`.
 * @param time Time of the first sample and between samples, in the SI unit of
 * `x`.
 * @param x The axis of time.
 * @param y The axis of the samples.
 * @param style Name, colour, panel.
 * @param points Most points to keep.
 * @param stretch The samples that are drawn; all where left out.
 * @returns The trace.
 */
export function sampleLine(
  samples: ArrayLike<number>,
  time: { readonly start: number; readonly step: number },
  x: ShownAxis,
  y: ShownAxis,
  style: TraceStyle,
  points = 3000,
  stretch: { readonly from: number; readonly to: number } = {
    from: 0,
    to: samples.length,
  },
): PlotlyTrace {
  const { from, to } = stretch;
  const { indices } = thinTrace(samples, { points, from, to });
  return line(
    Array.from(indices, (index) => x.scale(time.start + index * time.step)),
    Array.from(indices, (index) => y.scale(samples[index]!)),
    x,
    y,
    style,
  );
}

/** A curve through points in SI units, thinned to what a figure can show. */
export function curve(
  xs: ArrayLike<number>,
  ys: ArrayLike<number>,
  x: ShownAxis,
  y: ShownAxis,
  style: TraceStyle,
  points = 3000,
): PlotlyTrace {
  const { indices } = thinTrace(ys, { points });
  return line(
    Array.from(indices, (index) => x.scale(xs[index]!)),
    Array.from(indices, (index) => y.scale(ys[index]!)),
    x,
    y,
    style,
  );
}

/** Markers at points in SI units, with bars of uncertainty where given. */
export function marks(
  xs: ArrayLike<number>,
  ys: ArrayLike<number>,
  x: ShownAxis,
  y: ShownAxis,
  style: TraceStyle,
  uncertainties: ArrayLike<number> | null = null,
): PlotlyTrace {
  const { colour, symbol = "circle", size = 7 } = style;
  // More marks than the figure has room for say nothing.
  const stride = Math.max(1, Math.ceil(xs.length / 800));
  const pick = (values: ArrayLike<number>, axis: ShownAxis) =>
    Array.from(
      { length: Math.ceil(values.length / stride) },
      (_, k) => axis.scale(values[k * stride]!),
    );
  return {
    ...base(x, y, style),
    mode: "markers",
    x: pick(xs, x),
    y: pick(ys, y),
    marker: {
      color: colour,
      symbol,
      size,
      ...(symbol.endsWith("-open") ? { line: { width: 1.6 } } : {}),
    },
    ...(uncertainties === null ? {} : {
      error_y: {
        type: "data",
        array: pick(uncertainties, y),
        color: colour,
        thickness: 1.2,
        width: 3,
      },
    }),
  };
}

/** A shaded band between two curves over the same points, in SI units. */
export function band(
  xs: ArrayLike<number>,
  low: ArrayLike<number>,
  high: ArrayLike<number>,
  x: ShownAxis,
  y: ShownAxis,
  style: TraceStyle,
): PlotlyTrace {
  const there = Array.from(
    { length: xs.length },
    (_, k) => [x.scale(xs[k]!), y.scale(low[k]!)] as const,
  );
  const back = Array.from(
    { length: xs.length },
    (_, k) => [x.scale(xs[k]!), y.scale(high[k]!)] as const,
  ).reverse();
  return {
    ...base(x, y, style),
    mode: "lines",
    x: [...there, ...back].map(([at]) => at),
    y: [...there, ...back].map(([, at]) => at),
    fill: "toself",
    fillcolor: `${style.colour}2e`,
    line: { width: 0 },
    hoverinfo: "skip",
    hovertemplate: null,
  };
}

function line(
  xs: (number | null)[],
  ys: (number | null)[],
  x: ShownAxis,
  y: ShownAxis,
  style: TraceStyle,
): PlotlyTrace {
  const { colour, width = 1.4, dash = "solid" } = style;
  return {
    ...base(x, y, style),
    mode: "lines",
    x: xs,
    y: ys,
    line: {
      color: colour,
      width,
      // Without it plotly.js draws a smooth curve as a polygon.
      simplify: false,
      ...(dash === "solid" ? {} : { dash }),
    },
  };
}

function base(x: ShownAxis, y: ShownAxis, style: TraceStyle): PlotlyTrace {
  const { name, panel = 1, legend = true } = style;
  return {
    type: "scatter",
    name,
    ...(panel === 1 ? {} : { yaxis: `y${panel}` }),
    ...(legend ? {} : { showlegend: false }),
    hovertemplate: `${hover("x", x)}<br>${hover("y", y)}<extra>${
      name.replaceAll("<", "&lt;")
    }</extra>`,
  };
}

function hover(letter: "x" | "y", axis: ShownAxis): string {
  return `%{${letter}:.5~g}${axis.unit === "" ? "" : ` ${axis.unit}`}`;
}
