import type { ShownAxis } from "../axis.ts";
import { colours } from "../theme.ts";
import { envelope, type Stretch } from "./stretch.ts";
import { band, type PlotlyTrace } from "./trace.ts";

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
  /**
   * The record of which the panels show a stretch; drawn whole under them, as
   * an envelope, with the stretch marked. @default {none}
   */
  overview?: Overview | null;
}

/** A record of which the panels show a part. */
export interface Overview {
  /** The samples (N), in the SI unit of `y`. */
  readonly samples: ArrayLike<number>;
  /** Axis of the samples. */
  readonly y: ShownAxis;
  /** Distance of the samples along the shared axis, in its SI unit. */
  readonly step?: number;
  /** Place of each sample along the shared axis where it is not even. */
  readonly places?: ArrayLike<number>;
  /** What the panels show; nothing is drawn where it is the whole record. */
  readonly stretch: Stretch;
}

/** Height of the overview and of the room above it, in CSS pixels. */
const overviewHeight = 60;
const overviewGap = 66;

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
    overview = null,
  } = options;
  const shown = overview !== null && !overview.stretch.whole ? overview : null;
  const tall = height + (shown === null ? 0 : overviewHeight + overviewGap);
  const named = panels.flatMap(({ traces }) => traces)
    .filter(({ showlegend }) => showlegend !== false);
  const legend = layout.showlegend ?? named.length > 1;
  // Room above the panels for the title and, where there is one, the legend.
  const margin = { l: 64, r: 20, t: legend ? 66 : 44, b: 52 };
  const area = tall - margin.t - margin.b;
  const floor = shown === null ? 0 : (overviewHeight + overviewGap) / area;
  const gap = 0.05;
  const free = 1 - floor - gap * (panels.length - 1);
  const weights = panels.map(({ weight = 1 }) => weight);
  const sum = weights.reduce((total, weight) => total + weight, 0);
  let bottom = floor;
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
  const number = panels.length + 1;
  const whole = shown === null
    ? null
    : drawOverview(shown, x, number, overviewHeight / area);
  const lifted = (key: "shapes" | "annotations") => {
    const list = (layout[key] ?? []) as Record<string, unknown>[];
    return list.map((item) => lift(item, floor));
  };
  return {
    // The panel on top comes first in the legend.
    data: [
      ...panels.toReversed().flatMap(({ traces }) => traces),
      ...(whole === null ? [] : [whole.trace]),
    ],
    layout: {
      title: { text: title },
      height: tall,
      margin,
      xaxis: {
        title: { text: x.title },
        anchor: "y",
        ...(whole === null ? {} : { range: whole.range }),
        ...axis,
      },
      ...Object.fromEntries(axes),
      ...layout,
      ...(whole === null ? {} : {
        ...whole.axes,
        shapes: [...lifted("shapes"), whole.mark],
        annotations: lifted("annotations"),
      }),
    },
  };
}

/** The whole record under the panels. */
function drawOverview(
  { samples, y, step = 1, places, stretch }: Overview,
  x: ShownAxis,
  number: number,
  top: number,
) {
  // A part must hold a fringe or two, or its ends are beside the fringes': the
  // stretch holds some thirty.
  const parts = Math.ceil(12 * samples.length / (stretch.to - stretch.from));
  const { at, low, high } = envelope(samples, Math.min(380, parts));
  const place = (k: number) => places?.[Math.round(k)] ?? k * step;
  const range = [x.scale(place(stretch.from)), x.scale(place(stretch.to - 1))];
  const trace = band(at.map(place), low, high, x, y, {
    name: "Whole record",
    colour: colours.blue,
    panel: number,
    legend: false,
  });
  return {
    range,
    trace: { ...trace, xaxis: "x2", fillcolor: `${colours.blue}99` },
    mark: {
      type: "rect",
      xref: "x2",
      yref: `y${number} domain`,
      x0: range[0],
      x1: range[1],
      y0: 0,
      y1: 1,
      fillcolor: `${colours.vermilion}40`,
      line: { color: colours.vermilion, width: 1.5 },
    },
    axes: {
      xaxis2: {
        title: {
          text: `Whole ${places === undefined ? "record" : "ramp"}, ${
            lowerFirst(x.title)
          }`,
        },
        anchor: `y${number}`,
        range: [x.scale(place(0)), x.scale(place(samples.length - 1))],
      },
      [`yaxis${number}`]: {
        // No room for more than the unit beside so low a panel.
        ...(y.unit === "" ? {} : { title: { text: y.unit } }),
        domain: [0, round(top)],
        anchor: "x2",
        nticks: 3,
        showgrid: false,
      },
    },
  };
}

/** What stood over the height of the figure stands over that of the panels. */
function lift(
  item: Record<string, unknown>,
  floor: number,
): Record<string, unknown> {
  if (item.yref !== "paper") return item;
  const changed = { ...item };
  for (const key of ["y", "y0", "y1"]) {
    const value = changed[key];
    if (typeof value === "number") {
      changed[key] = round(floor + (1 - floor) * value);
    }
  }
  return changed;
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1);
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
 *
 * @param values Numbers along the axis, in its SI unit.
 * @param axis Scale of the axis; none where its unit has no prefix.
 */
export function logarithmic(
  values: ArrayLike<number>,
  axis: Pick<ShownAxis, "scale"> = { scale: (value) => value },
): Record<string, unknown> {
  let low = Infinity;
  let high = 0;
  for (let k = 0; k < values.length; k++) {
    const value = axis.scale(values[k]!) ?? NaN;
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
