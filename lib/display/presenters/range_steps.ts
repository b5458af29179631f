import type { RampSteps } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import { marks, stackPanels } from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { rampFigure } from "./ramp_figure.ts";
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
      ...(result.adopted === "by hand" ? [] : [
        row(
          "strokes used",
          `${used(result)} of ${result.diagnostics.strokes.length}`,
        ),
        row("signal-to-noise ratio", result.signalToNoiseRatio, "dB"),
        quantityRow("feedback parameter C", result.feedbackParameter),
      ]),
      ...result.modeHops.map((hop, k) =>
        quantityRow(
          `mode hop ${k + 1}, at`,
          hop.current,
          `${
            hop.direction === "up" ? "rising" : "falling"
          }, in ${hop.strokes} strokes`,
        )
      ),
      ...(result.adopted === "by hand" ? [] : [
        ...result.estimators.map(({ name, steps }) =>
          quantityRow(
            `steps by ${name}`,
            steps,
            name === result.adopted ? "taken as the value" : "",
          )
        ),
        row("largest difference of these", result.disagreement),
      ]),
    ],
    figures: result.adopted === "by hand" ? [] : [
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
    method: result.adopted === "by hand"
      ? "Counted by hand on a screen: steps on a whole flank, or whole steps between the currents of two edges."
      : result.adopted === "phase slope"
      ? "The power trend is taken away and the slope of the unwrapped phase along the current of each stroke is the count."
      : "The power trend and the fringes are fitted together along the current of each stroke; other ways of counting stand beside it.",
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
