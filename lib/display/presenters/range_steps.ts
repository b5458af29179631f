import type { RampSteps, StrokeTrace } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { extremes, shownAxis } from "../axis.ts";
import {
  curve,
  marks,
  type PlotlyTrace,
  stackPanels,
  traceSlider,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<RampSteps>("range.steps", {
  report: (result) => ({
    title: "Steps on the ramp",
    headlines: [
      headline("steps per ramp", result.steps),
      headline("steps per current", result.stepsPerCurrent),
    ],
    rows: [
      ...(result.stepsUp === null
        ? []
        : [quantityRow("rising strokes", result.stepsUp)]),
      ...(result.stepsDown === null
        ? []
        : [quantityRow("falling strokes", result.stepsDown)]),
      quantityRow("current span", result.currentSpan),
      row("mean current", result.meanCurrent, "A"),
      row("ramp", result.shape),
      row("ramps per second", result.modulationFrequency, "Hz"),
      row("duration of a stroke", result.strokeDuration, "s"),
      row(
        "strokes used",
        `${used(result)} of ${result.diagnostics.strokes.length}`,
      ),
      row("signal-to-noise ratio", result.signalToNoiseRatio, "dB"),
      ...result.estimators.map(({ name, steps }) =>
        quantityRow(`steps by ${name}`, steps)
      ),
      row("largest difference of these", result.disagreement),
    ],
    figures: [
      {
        name: "ramp",
        caption:
          "Monitor signal along the drive current with its power trend above; the fringes without the trend, their fit and the steps found below",
        draw: () => rampFigure(result),
      },
      {
        name: "strokes",
        caption: "Steps of each stroke with their standard uncertainty",
        draw: () => strokesFigure(result),
      },
    ],
    method:
      "The power trend and the fringes are fitted together along the current of each stroke; three other ways of counting stand beside it.",
  }),
  rows: ({ diagnostics }) =>
    diagnostics.strokes.map((stroke) => ({
      ...stroke,
      reason: stroke.reason ?? "",
    })),
});

function used({ diagnostics }: RampSteps): number {
  return diagnostics.strokes.filter((stroke) => stroke.used).length;
}

/** The ramp with power trend, fit and steps; a slider over the strokes. */
export function rampFigure({ diagnostics }: RampSteps) {
  const { traces, signalUnit } = diagnostics;
  const x = shownAxis(
    "Drive current",
    extremes(traces.map(({ current }) => current)),
    "A",
  );
  const y = shownAxis(
    "Signal",
    extremes(traces.map(({ signal }) => signal)),
    signalUnit,
  );
  const fringes = traces.map(({ signal, background }) =>
    signal.map((value, k) => value - background[k]!)
  );
  const rest = shownAxis("Fringes", extremes(fringes), signalUnit);
  const groups = traces.map((trace, k) => ({
    below: below(trace, fringes[k]!),
    above: above(trace),
  }));
  function above({ current, signal, background }: StrokeTrace) {
    return [
      curve(current, signal, x, y, {
        name: "Monitor signal",
        colour: colours.blue,
        panel: 2,
        width: 1.6,
      }, 1000),
      curve(current, background, x, y, {
        name: "Power trend",
        colour: colours.black,
        panel: 2,
        dash: "dash",
        width: 1.6,
      }, 100),
    ];
  }
  function below(
    { current, edges, background, fitted }: StrokeTrace,
    values: Float64Array,
  ) {
    const top = 1.12 * values.reduce((high, v) => Math.max(high, v), 0);
    const level = edges.map(() => top);
    return [
      curve(current, values, x, rest, {
        name: "Monitor signal",
        colour: colours.blue,
        legend: false,
        width: 2.6,
      }, 1200),
      curve(
        current,
        fitted.map((value, k) => value - background[k]!),
        x,
        rest,
        {
          name: "Fit",
          colour: colours.vermilion,
          width: 1,
        },
        1200,
      ),
      marks(edges, level, x, rest, {
        name: "Steps",
        colour: colours.black,
        symbol: "line-ns-open",
        size: 9,
      }),
    ];
  }
  const panels = [
    { y: rest, traces: groups.flatMap((group) => group.below) },
    { y, traces: groups.flatMap((group) => group.above) },
  ];
  const owners = [
    ...groups.flatMap(({ above }, k) => above.map(() => k)),
    ...groups.flatMap(({ below }, k) => below.map(() => k)),
  ];
  const { data, layout } = stackPanels(panels, {
    title: "Ramp with its steps",
    x,
    layout: traces.length < 2 ? {} : {
      height: 600,
      sliders: [traceSlider(
        "Stroke",
        traces.map(({ direction }, k) => ({
          name: direction === "up" ? "rising" : "falling",
          visible: owners.map((owner) => owner === k),
        })),
      )],
    },
  });
  return {
    data: data.map((trace: PlotlyTrace, k) =>
      owners[k] === 0 ? trace : { ...trace, visible: false }
    ),
    layout,
  };
}

function strokesFigure(result: RampSteps) {
  const { strokes } = result.diagnostics;
  const x = shownAxis("Stroke", [strokes.length], "1");
  const y = shownAxis("Steps per ramp", [result.steps.value], "1");
  const part = (
    name: string,
    colour: string,
    symbol: string,
    keep: (stroke: typeof strokes[number]) => boolean,
  ) => {
    const kept = strokes.filter(keep).filter(({ steps }) =>
      Number.isFinite(steps)
    );
    return kept.length === 0 ? [] : [marks(
      kept.map(({ index }) => index + 1),
      kept.map(({ steps }) => steps),
      x,
      y,
      { name, colour, symbol },
      kept.map(({ standardUncertainty }) => standardUncertainty),
    )];
  };
  return stackPanels([{
    y,
    traces: [
      ...part(
        "Rising",
        colours.blue,
        "triangle-up",
        (stroke) => stroke.used && stroke.direction === "up",
      ),
      ...part(
        "Falling",
        colours.vermilion,
        "triangle-down",
        (stroke) => stroke.used && stroke.direction === "down",
      ),
      ...part("Left out", colours.grey, "x", ({ used }) => !used),
    ],
  }], {
    title: "Steps stroke by stroke",
    x,
    layout: {
      showlegend: true,
      shapes: [{
        type: "line",
        layer: "below",
        xref: "paper",
        x0: 0,
        x1: 1,
        y0: y.scale(result.steps.value),
        y1: y.scale(result.steps.value),
        line: { color: colours.black, width: 1, dash: "dash" },
      }],
    },
  });
}
