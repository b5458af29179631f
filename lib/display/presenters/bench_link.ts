import type { LinkEstimate } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  curve,
  logarithmic,
  stackPanels,
  uprightLabel,
} from "../figures/mod.ts";
import { formatNumber } from "../format_number.ts";
import { plotText } from "../plot_text.ts";
import { colours } from "../theme.ts";
import { headline, percentRow, row } from "./rows.ts";

registerPresenter<LinkEstimate>("bench.link", {
  report: (link) => ({
    title: "Light that comes back from the target",
    headlines: [headline("feedback parameter C", link.feedbackParameter)],
    rows: [
      row("regime", link.regime),
      row("part of the power that returns", link.returnedFraction),
      row("radius of the spot, first axis", link.spotRadii[0], "m"),
      row("radius of the spot, second axis", link.spotRadii[1], "m"),
      percentRow(
        "filter for the wanted C, passed twice",
        link.filterTransmission,
      ),
      row("the same as optical density", link.filterDensity),
      ...link.surfaces.map(({ surface, feedbackParameter, regime }) =>
        row(
          `C with ${surface.name}`,
          formatNumber(feedbackParameter, { digits: 2 }),
          "",
          regime,
        )
      ),
    ],
    figures: [
      {
        name: "distance",
        caption:
          "Feedback parameter against distance, with the limits of the regimes at C = 1 and C = 4.6",
        draw: () => distanceFigure(link),
      },
      {
        name: "surfaces",
        caption: "Feedback parameter with usual surfaces",
        draw: () => surfacesFigure(link),
      },
    ],
    method: `C from the returning power, good to ${goodTo(link)}.`,
  }),
  rows: ({ surfaces }) =>
    surfaces.map(({ surface, ...link }) => ({
      surface: surface.name,
      reflectance: surface.reflectance,
      ...link,
    })),
});

/** How well C is known; see `estimateLink`. */
function goodTo({ feedbackParameter }: LinkEstimate): string {
  const { value, standardUncertainty } = feedbackParameter;
  return standardUncertainty < value
    ? "a factor of two"
    : "its order of magnitude";
}

/** C at which fringes become saw-teeth, and at which they get lost. */
const limits = [1, 4.603] as const;

function distanceFigure(link: LinkEstimate) {
  const { diagnostics } = link;
  const { distances, feedbackParameters } = diagnostics;
  const x = shownAxis("Distance", distances, "m", "logarithmic");
  const y = shownAxis(
    "Feedback parameter C",
    feedbackParameters,
    "1",
    "logarithmic",
  );
  const ends = [distances[0]!, distances.at(-1)!];
  return stackPanels([{
    y,
    axis: logarithmic([...feedbackParameters, ...limits], y),
    traces: [
      curve(distances, feedbackParameters, x, y, {
        name: `Estimate, to ${goodTo(link)}`,
        colour: colours.blue,
        width: 2,
      }),
      curve(ends, [limits[0], limits[0]], x, y, {
        name: "Saw-tooth above",
        colour: colours.green,
        dash: "dash",
      }),
      curve(ends, [limits[1], limits[1]], x, y, {
        name: "Fringes get lost above",
        colour: colours.vermilion,
        dash: "dash",
      }),
    ],
  }], {
    title: "Feedback against distance",
    x,
    axis: logarithmic(distances, x),
  });
}

function surfacesFigure({ surfaces }: LinkEstimate) {
  const sorted = [...surfaces].sort((a, b) =>
    a.feedbackParameter - b.feedbackParameter
  );
  const values = sorted.map(({ feedbackParameter }) => feedbackParameter);
  const line = (at: number, color: string) => ({
    type: "line",
    yref: "paper",
    y0: 0,
    y1: 1,
    x0: at,
    x1: at,
    line: { color, width: 1.4, dash: "dash" },
  });
  return {
    data: [{
      type: "scatter",
      mode: "markers",
      x: values.map((value) => Number(value.toPrecision(3))),
      y: sorted.map(({ surface }) => plotText(surface.name)),
      marker: { color: colours.blue, size: 10 },
      hovertemplate: "%{y}<br>C = %{x:.3~g}<extra></extra>",
      showlegend: false,
    }],
    layout: {
      title: { text: "Feedback with usual surfaces" },
      height: 130 + 30 * sorted.length,
      margin: { l: 64, r: 20, t: 44, b: 52 },
      xaxis: {
        title: { text: "Feedback parameter C" },
        ...logarithmic([...values, ...limits]),
      },
      yaxis: { type: "category" },
      annotations: [
        limitLabel(limits[0], "saw-tooth"),
        limitLabel(limits[1], "fringes get lost"),
      ],
      shapes: [
        line(limits[0], colours.green),
        line(limits[1], colours.vermilion),
      ],
    },
  };
}

/** A word at the right of an upright line. */
function limitLabel(at: number, text: string) {
  return {
    ...uprightLabel(at, "", "logarithmic"),
    xanchor: "left",
    text: ` ${text} →`,
  };
}
