import type { RampSteps, StrokeTrace } from "../../range/mod.ts";
import { extremes, type ShownAxis, shownAxis, signalAxis } from "../axis.ts";
import {
  curve,
  marks,
  type Overview,
  type PlotlyTrace,
  stackPanels,
  traceSlider,
  uprightLabel,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";

/** The axes of the figure. */
interface Axes {
  readonly current: ShownAxis;
  readonly signal: ShownAxis;
  readonly fringes: ShownAxis;
}

/**
 * A ramp along the drive current: signal and power trend above; fringes without
 * the trend, fit and steps below; mode hops across. A slider chooses the stroke.
 *
 * @param result Steps on a ramp.
 * @returns Data and layout for plotly.js.
 */
export function rampFigure({ diagnostics, modeHops }: RampSteps): {
  data: PlotlyTrace[];
  layout: Record<string, unknown>;
} {
  const { signalUnit } = diagnostics;
  const stretch = stretchOf(diagnostics.traces[0]);
  const traces = stretch === null
    ? diagnostics.traces
    : diagnostics.traces.map((trace) => cut(trace, stretch));
  const fringes = traces.map(({ signal, background }) =>
    signal.map((value, k) => value - background[k]!)
  );
  const axes: Axes = {
    current: shownAxis(
      "Drive current",
      extremes(traces.map(({ current }) => current)),
      "A",
    ),
    signal: signalAxis(
      "Signal",
      extremes(traces.map(({ signal }) => signal)),
      signalUnit,
    ),
    fringes: signalAxis("Fringes", extremes(fringes), signalUnit),
  };
  const shownHops = modeHops.filter(({ current }) =>
    stretch === null ||
    current.value >= stretch.low && current.value <= stretch.high
  );
  const above = traces.map((trace) => signalTraces(trace, axes));
  const below = traces.map((trace, k) =>
    fringeTraces(trace, fringes[k]!, axes)
  );
  const { data, layout } = stackPanels([
    { y: axes.fringes, traces: below.flat() },
    { y: axes.signal, traces: above.flat() },
  ], {
    title: "Ramp with its steps",
    x: axes.current,
    overview: stretch === null
      ? null
      : overviewOf(diagnostics.traces[0]!, stretch, axes.fringes),
    layout: {
      shapes: uprights(
        shownHops.map(({ current }) => current.value),
        axes.current,
        colours.purple,
        "dash",
      ),
      // Rising strokes hop at a higher current than falling ones hop back.
      annotations: shownHops.map(({ current, direction }) => ({
        ...uprightLabel(
          axes.current.scale(current.value),
          ` mode hop, ${direction}`,
          "linear",
        ),
        xanchor: direction === "up" ? "left" : "right",
      })),
    },
  });
  // The upper panel's traces come first, stroke after stroke.
  const owners = [above, below].flatMap((panel) =>
    panel.flatMap((list, stroke) => list.map(() => stroke))
  );
  return {
    data: data.map((trace, k) =>
      (owners[k] ?? 0) === 0 ? trace : { ...trace, visible: false }
    ),
    layout: traces.length < 2 ? layout : {
      ...layout,
      height: (layout.height as number) + 80,
      sliders: [traceSlider(
        "Stroke",
        traces.map(({ direction }, stroke) => ({
          name: direction === "up" ? "rising" : "falling",
          visible: data.map((_, k) => (owners[k] ?? stroke) === stroke),
        })),
      )],
    },
  };
}

/** A part of the ramp, in A. */
interface CurrentStretch {
  readonly low: number;
  readonly high: number;
}

/** More steps than this on one stroke make a solid block. */
const mostSteps = 60;

/** Some thirty steps in the middle of a stroke; `null` where all can be seen. */
function stretchOf(trace: StrokeTrace | undefined): CurrentStretch | null {
  const edges = Array.from(trace?.edges ?? []).sort((a, b) => a - b);
  if (edges.length <= mostSteps) return null;
  const middle = Math.floor(edges.length / 2);
  return { low: edges[middle - 15]!, high: edges[middle + 15]! };
}

/** What of a stroke lies on a part of the ramp. */
function cut(trace: StrokeTrace, { low, high }: CurrentStretch): StrokeTrace {
  const inside = (at: number) => at >= low && at <= high;
  const pick = (values: Float64Array) =>
    values.filter((_, k) => inside(trace.current[k]!));
  return {
    ...trace,
    current: trace.current.filter(inside),
    signal: pick(trace.signal),
    background: pick(trace.background),
    fitted: pick(trace.fitted),
    edges: trace.edges.filter(inside),
  };
}

/** The fringes along the whole ramp, of its first stroke. */
function overviewOf(
  { current, signal, background }: StrokeTrace,
  { low, high }: CurrentStretch,
  y: ShownAxis,
): Overview {
  const order = Array.from(current.keys()).sort((a, b) =>
    current[a]! - current[b]!
  );
  const at = order.map((k) => current[k]!);
  return {
    samples: order.map((k) => signal[k]! - background[k]!),
    y,
    places: at,
    stretch: {
      from: at.findIndex((value) => value >= low),
      to: at.findLastIndex((value) => value <= high) + 1,
      whole: false,
    },
  };
}

function signalTraces(
  { current, signal, background }: StrokeTrace,
  axes: Axes,
): PlotlyTrace[] {
  return [
    curve(current, signal, axes.current, axes.signal, {
      name: "Monitor signal",
      colour: colours.blue,
      panel: 2,
      width: 1.6,
    }, 1000),
    curve(current, background, axes.current, axes.signal, {
      name: "Power trend",
      colour: colours.black,
      panel: 2,
      dash: "dash",
      width: 1.6,
    }, 100),
  ];
}

function fringeTraces(
  { current, edges, background, fitted }: StrokeTrace,
  fringes: Float64Array,
  axes: Axes,
): PlotlyTrace[] {
  const [, high] = extremes([fringes]);
  return [
    curve(current, fringes, axes.current, axes.fringes, {
      name: "Monitor signal",
      colour: colours.blue,
      legend: false,
      width: 2.6,
    }, 1200),
    // The slope of the phase alone fits no curve.
    ...(fitted.some(Number.isFinite)
      ? [
        curve(
          current,
          fitted.map((value, k) => value - background[k]!),
          axes.current,
          axes.fringes,
          { name: "Fit", colour: colours.vermilion, width: 1 },
          1200,
        ),
      ]
      : []),
    marks(edges, edges.map(() => 1.12 * high), axes.current, axes.fringes, {
      name: "Steps",
      colour: colours.black,
      symbol: "line-ns-open",
      size: 9,
    }),
  ];
}
