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
    figures: [{
      name: "irradiance",
      caption:
        "Irradiance over the pupil against distance, with the limit and the hazard distance",
      draw: () => irradianceFigure(estimate),
    }],
    method:
      "Largest power through the apertures of the standard; distance at which the mean irradiance over the pupil falls to the limit.",
  }),
  rows: ({ diagnostics }) =>
    Array.from(diagnostics.distances, (distance, k) => ({
      distance,
      irradiance: diagnostics.irradiances[k]!,
    })),
});

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
    axis: logarithmic([...irradiances, limit]),
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
    axis: logarithmic(distances),
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
