import type { ScreenMotion } from "../../motion/mod.ts";
import { registerPresenter } from "../../result/mod.ts";
import { budgetFigure } from "../figures/mod.ts";
import { headline, quantityRow, row } from "./rows.ts";

registerPresenter<ScreenMotion>("motion.screen", {
  report: (result) => ({
    title: "Motion counted on a screen",
    headlines: [headline("amplitude", result.amplitude)],
    rows: [
      quantityRow("from turning point to turning point", result.peakToPeak),
      quantityRow("fringes on that way", result.diagnostics.fringes),
      ...(result.frequency === null
        ? []
        : [quantityRow("frequency", result.frequency)]),
      ...(result.greatestSpeed === null ? [] : [
        quantityRow(
          "greatest speed",
          result.greatestSpeed,
          `as of a ${result.waveform}`,
        ),
      ]),
      ...(result.greatestFringeRate === null
        ? []
        : [quantityRow("greatest fringe rate", result.greatestFringeRate)]),
      ...result.budget.lines.map(({ name, contribution }) =>
        row(`uncertainty from ${name}`, contribution, "m")
      ),
    ],
    figures: [{
      name: "budget",
      caption:
        "Where the uncertainty of the amplitude comes from, largest part on top",
      draw: () =>
        budgetFigure(
          result.budget.lines,
          result.amplitude.standardUncertainty,
          "m",
          "Uncertainty budget of the amplitude",
        ),
    }],
    method:
      "Fringes counted by hand from one turning point to the next, half a wavelength each.",
  }),
  rows: ({ budget }) => budget.lines.map((line) => ({ ...line })),
});
