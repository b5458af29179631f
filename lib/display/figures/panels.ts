import type { ShownAxis } from "../axis.ts";
import type { PlotlyTrace } from "./trace.ts";

/** One panel of a figure whose panels share the axis at the bottom. */
export interface Panel {
  /** Axis of the panel. */
  readonly y: ShownAxis;
  /** Traces; each must name its panel. */
  readonly traces: readonly PlotlyTrace[];
  /** Height beside the other panels. @default {1} */
  readonly weight?: number;
  /** Further settings of the y axis of plotly.js. @default {{}} */
  readonly axis?: Readonly<Record<string, unknown>>;
}

/** Options of {@linkcode stackPanels}. */
export interface StackPanelsOptions {
  /** Title above the figure. */
  title: string;
  /** The shared axis at the bottom. */
  x: ShownAxis;
  /** Height of the figure, in CSS pixels. @default {400, 500 with two panels} */
  height?: number;
  /** Further layout of plotly.js. @default {{}} */
  layout?: Readonly<Record<string, unknown>>;
  /** Further settings of the x axis of plotly.js. @default {{}} */
  axis?: Readonly<Record<string, unknown>>;
}

/**
 * Puts panels over each other with one shared axis at the bottom: zooming one
 * zooms all.
 *
 * @param panels The panels, from the bottom up.
 * @param options Title, shared axis, height.
 * @returns Data and layout for plotly.js.
 */
export function stackPanels(
  panels: readonly Panel[],
  options: StackPanelsOptions,
): { data: PlotlyTrace[]; layout: Record<string, unknown> } {
  const {
    title,
    x,
    height = [400, 400, 520, 640][panels.length] ?? 640,
    layout = {},
    axis = {},
  } = options;
  const gap = 0.05;
  const free = 1 - gap * (panels.length - 1);
  const weights = panels.map(({ weight = 1 }) => weight);
  const sum = weights.reduce((total, weight) => total + weight, 0);
  let bottom = 0;
  const named = panels.flatMap(({ traces }) => traces)
    .filter(({ showlegend }) => showlegend !== false);
  const legend = layout.showlegend ?? named.length > 1;
  const axes = panels.map(({ y, axis: extra = {} }, index) => {
    const top = bottom + free * (weights[index] ?? 1) / sum;
    const domain = [round(bottom), round(Math.min(1, top))];
    bottom = top + gap;
    return [`yaxis${index === 0 ? "" : index + 1}`, {
      title: { text: y.title },
      domain,
      ...extra,
    }];
  });
  return {
    // The panel on top comes first in the legend.
    data: panels.toReversed().flatMap(({ traces }) => traces),
    layout: {
      title: { text: title },
      height,
      // Room above the panels for the title and, where there is one, the legend.
      margin: { l: 64, r: 20, t: legend ? 66 : 44, b: 52 },
      xaxis: { title: { text: x.title }, anchor: "y", ...axis },
      ...Object.fromEntries(axes),
      ...layout,
    },
  };
}

function round(value: number): number {
  return Number(value.toFixed(4));
}

/** Upright lines over all panels, at numbers in the SI unit of `x`. */
export function uprights(
  at: Iterable<number>,
  x: ShownAxis,
  colour: string,
  dash: "solid" | "dash" | "dot" = "dot",
): Record<string, unknown>[] {
  return Array.from(at, (value) => ({
    type: "line",
    layer: "above",
    xref: "x",
    yref: "paper",
    x0: x.scale(value),
    x1: x.scale(value),
    y0: 0,
    y1: 1,
    line: { color: colour, width: 1.2, dash },
  }));
}

/**
 * Settings of a logarithmic axis: a tick at each power of ten where there are
 * several, else at 1, 2 and 5, or closer.
 */
export function logarithmic(
  values: ArrayLike<number>,
): Record<string, unknown> {
  let low = Infinity;
  let high = 0;
  for (let k = 0; k < values.length; k++) {
    const value = values[k]!;
    if (value > 0 && value < low) low = value;
    if (value > high && value < Infinity) high = value;
  }
  if (!(high / low <= 100)) return { type: "log", dtick: 1 };
  const digits = high / low > 10 ? [1, 2, 5] : [1, 1.5, 2, 3, 4, 5, 6, 8];
  const tickvals: number[] = [];
  const first = Math.floor(Math.log10(low));
  for (let order = first; 10 ** order < 10 * high; order++) {
    for (const digit of digits) tickvals.push(Number(`${digit}e${order}`));
  }
  const ticktext = tickvals.map((value) =>
    String(Number(value.toPrecision(2)))
  );
  return { type: "log", tickvals, ticktext };
}

/** A word beside an upright line, at the bottom of the figure. */
export function uprightLabel(
  at: number | null,
  text: string,
  kind: "linear" | "logarithmic",
): Record<string, unknown> {
  return {
    x: kind === "linear" ? at : Math.log10(at ?? NaN),
    xref: "x",
    y: 0,
    yref: "paper",
    yanchor: "bottom",
    xanchor: "right",
    showarrow: false,
    text: `${text} `,
    font: { size: 11, color: "#4a4a4a" },
  };
}
