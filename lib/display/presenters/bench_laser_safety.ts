import type { LaserSafetyEstimate } from "../../bench/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { shownAxis } from "../axis.ts";
import {
  curve,
  logarithmic,
  stackPanels,
  uprightLabel,
  uprights,
} from "../figures/mod.ts";
import { colours } from "../theme.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<LaserSafetyEstimate>("bench.laserSafety", {
  report: (estimate) => ({
    title: `Laser safety: estimated class ${estimate.laserClass}`,
    headlines: [headline("hazard distance", estimate.hazardDistance)],
    rows: [
      row("remember", estimate.statement),
      row("estimated class", estimate.laserClass),
      row("class once a lens collects the light", estimate.collectedClass),
      ...estimate.cautions.map((caution, k) =>
        row(`caution ${k + 1}`, caution)
      ),
      row("seen by the eye", estimate.visible),
      quantityRow("power into the naked eye", estimate.unaidedEmission),
      quantityRow("power into an eye with optics", estimate.aidedEmission),
      quantityRow("irradiance at the eye", estimate.irradiance),
      row("limit of the irradiance", estimate.exposureLimit, "W/m²"),
      row("irradiance over limit", estimate.exposureRatio),
      quantityRow(
        "hazard distance when staring",
        estimate.staringHazardDistance,
      ),
      row("exposure assumed", estimate.diagnostics.exposureTime, "s"),
      row("limits from", estimate.edition),
    ],
    figures: [
      // A beam that does not widen has one irradiance at every distance.
      ...(isFlat(estimate) ? [] : [{
        name: "irradiance",
        caption:
          "Irradiance at the eye (power over the area of beam or pupil) against distance, with the limit and the hazard distance",
        draw: () => irradianceFigure(estimate),
      }]),
      {
        name: "classes",
        caption:
          "Power into the naked eye and into an eye with optics beside the largest powers of the classes",
        draw: () => classesFigure(estimate),
      },
    ],
    method:
      "Largest power through the apertures of the standard; distance at which the power over the area of the beam (at 1/e, at least that of the pupil) falls to the limit.",
  }),
  rows: ({ diagnostics }) =>
    Array.from(diagnostics.distances, (distance, k) => ({
      distance,
      irradiance: diagnostics.irradiances[k]!,
    })),
});

function isFlat({ diagnostics }: LaserSafetyEstimate): boolean {
  const { irradiances } = diagnostics;
  return irradiances.at(-1)! > 0.99 * irradiances[0]!;
}

/** Powers on one axis with the classes as coloured fields, in W. */
function classesFigure(estimate: LaserSafetyEstimate) {
  const { limits, unaidedEmission, aidedEmission } = estimate;
  const powers = [
    { name: "eye with optics", value: aidedEmission.value },
    { name: "naked eye", value: unaidedEmission.value },
  ];
  const ends = [
    { name: "1", to: limits.class1, colour: colours.green },
    { name: "2", to: limits.class2, colour: colours.ochre },
    { name: "3R", to: limits.class3R, colour: colours.vermilion },
    { name: "3B", to: limits.class3B, colour: colours.purple },
  ].filter((
    end,
  ): end is { name: string; to: number; colour: typeof end.colour } =>
    end.to !== null
  );
  const low = Math.min(limits.class1, ...powers.map(({ value }) => value)) / 4;
  const high = 4 * Math.max(limits.class3B, aidedEmission.value);
  const milli = (value: number) => Number((1e3 * value).toPrecision(4));
  const fields = [...ends, { name: "4", to: high, colour: colours.black }]
    .map((end, k) => ({ ...end, from: k === 0 ? low : ends[k - 1]!.to }));
  return {
    data: [{
      type: "scatter",
      mode: "markers",
      x: powers.map(({ value }) => milli(value)),
      y: powers.map(({ name }) => name),
      marker: { color: colours.blue, size: 12 },
      error_x: {
        type: "data",
        array: [aidedEmission, unaidedEmission].map(({ standardUncertainty }) =>
          milli(2 * standardUncertainty)
        ),
        color: colours.blue,
      },
      name: "Power, bars: ± U, k = 2",
      showlegend: true,
      hovertemplate: "%{y}<br>%{x:.3~g} mW<extra></extra>",
    }],
    layout: {
      title: { text: "Power and laser classes (estimate for teaching)" },
      height: 270,
      showlegend: true,
      margin: { l: 64, r: 20, t: 66, b: 52 },
      xaxis: {
        title: { text: "Power (mW)" },
        ...logarithmic([low, high].map(milli)),
        range: [Math.log10(milli(low)), Math.log10(milli(high))],
      },
      yaxis: { type: "category", showgrid: false, range: [-0.7, 1.7] },
      shapes: fields.map(({ from, to, colour }) => ({
        type: "rect",
        layer: "below",
        xref: "x",
        yref: "paper",
        x0: milli(from),
        x1: milli(to),
        y0: 0,
        y1: 1,
        fillcolor: colour,
        opacity: 0.15,
        line: { width: 0 },
      })),
      annotations: fields.map(({ name, from, to }) => ({
        x: Math.log10(Math.sqrt(milli(from) * milli(to))),
        xref: "x",
        y: 1,
        yref: "paper",
        yanchor: "top",
        showarrow: false,
        text: name,
        font: { size: 13 },
      })),
    },
  };
}

function irradianceFigure(estimate: LaserSafetyEstimate) {
  const { distances, irradiances } = estimate.diagnostics;
  const x = shownAxis("Distance", distances, "m", "logarithmic");
  const y = shownAxis("Irradiance", irradiances, "W/m²", "logarithmic");
  const hazard = estimate.hazardDistance.value;
  const known = hazard > 0 && Number.isFinite(hazard);
  const ends = [
    distances[0]!,
    Math.max(distances.at(-1)!, known ? 1.2 * hazard : 0),
  ];
  const limit = estimate.exposureLimit;
  return stackPanels([{
    y,
    axis: logarithmic([...irradiances, limit], y),
    traces: [
      curve(distances, irradiances, x, y, {
        name: "Irradiance",
        colour: colours.blue,
        width: 2,
      }),
      curve(ends, [limit, limit], x, y, {
        name: "Limit",
        colour: colours.vermilion,
        dash: "dash",
        width: 1.8,
      }),
    ],
  }], {
    title: "Irradiance at the eye (estimate for teaching)",
    x,
    axis: logarithmic(distances, x),
    layout: {
      ...(known
        ? {
          shapes: uprights([hazard], x, colours.grey, "dash"),
          annotations: [
            {
              ...uprightLabel(hazard, "hazard distance", "logarithmic"),
              y: 0.75,
            },
          ],
        }
        : {}),
    },
  });
}
