import type { RampSteps, StrokeTrace } from "../../range/mod.ts";
import { extremes, type ShownAxis, shownAxis, signalAxis } from "../axis.ts";
import {
  curve,
  marks,
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
  const { traces, signalUnit } = diagnostics;
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
    layout: {
      shapes: uprights(
        modeHops.map(({ current }) => current.value),
        axes.current,
        colours.purple,
        "dash",
      ),
      // Rising strokes hop at a higher current than falling ones hop back.
      annotations: modeHops.map(({ current, direction }) => ({
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
      owners[k] === 0 ? trace : { ...trace, visible: false }
    ),
    layout: traces.length < 2 ? layout : {
      ...layout,
      height: 600,
      sliders: [traceSlider(
        "Stroke",
        traces.map(({ direction }, stroke) => ({
          name: direction === "up" ? "rising" : "falling",
          visible: owners.map((owner) => owner === stroke),
        })),
      )],
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
