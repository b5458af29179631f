import type { DistanceMeasurement } from "../../range/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { budgetBars } from "../figures/mod.ts";
import { rampFigure } from "./ramp_figure.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<DistanceMeasurement>("range.distance", {
  report: (result) => ({
    title: "Distance from a current ramp",
    headlines: [headline("distance", result.distance)],
    rows: [
      quantityRow(
        "optical distance",
        result.opticalDistance,
        "from where the light really starts",
      ),
      quantityRow("steps per ramp", result.steps),
      ...(result.velocity === null
        ? []
        : [quantityRow("velocity", result.velocity, "positive: receding")]),
      row("critical velocity", result.criticalVelocity, "m/s"),
      row("tuning dλ/dI", result.diagnostics.tuning, "m/A"),
      row("wavelength", result.diagnostics.wavelength, "m"),
      row("calibrated on this bench", result.diagnostics.sameBench),
      ...result.budget.map(({ source, contribution }) =>
        row(`uncertainty from ${source}`, contribution, "m")
      ),
    ],
    figures: [
      {
        name: "budget",
        caption:
          "Where the uncertainty of the distance comes from, largest part on top",
        draw: () =>
          budgetBars(
            result.budget,
            result.distance.standardUncertainty,
            "m",
            "Uncertainty budget of the distance",
          ),
      },
      ...(result.diagnostics.steps.adopted === "by hand" ? [] : [{
        name: "ramp",
        caption:
          "Monitor signal along the drive current with its power trend above; the fringes without the trend, their fit and the steps found below",
        draw: () => rampFigure(result.diagnostics.steps),
      }]),
    ],
    method:
      "The steps per current are divided by the calibrated steps per current and distance; rising and falling strokes are averaged.",
  }),
  rows: ({ budget }) => budget.map((entry) => ({ ...entry })),
});
